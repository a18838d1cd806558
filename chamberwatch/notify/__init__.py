"""The edge to phones and the terminal; the only room that knows apprise."""

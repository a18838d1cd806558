"""The HTTP API, version 1."""

"""What grows, and the air it wants."""

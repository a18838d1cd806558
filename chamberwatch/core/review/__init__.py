"""Looking back: what the weeks were like, and what would make the next one better."""

"""Photos: from what a phone sends to a small picture that tells nothing but what it shows."""

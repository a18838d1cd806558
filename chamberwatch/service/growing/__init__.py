"""The growing record: what is told of batches, and what follows from it."""

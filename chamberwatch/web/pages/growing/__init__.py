"""The pages about what grows: shelves, batches, starts, yields, lines, photos."""

"""Files that other loggers wrote: what stands in which column, in which unit, and when."""

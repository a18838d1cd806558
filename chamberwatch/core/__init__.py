"""The trade itself: air, growing, watching. Pure: no clock, no input or output, no logging."""

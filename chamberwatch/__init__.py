"""chamberwatch: holds the air of a small mushroom chamber inside its band."""

__version__ = "0.1.0"

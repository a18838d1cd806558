"""chamberwatch: watches the air of a small mushroom chamber, so that it stays inside its band."""

__version__ = "0.1.0"

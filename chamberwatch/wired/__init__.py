"""The edge of sensors on wires: the maker's drivers, behind a small interface of our own."""

"""The one place where the parts meet: all of them in `machine`, those that grow in `growing`."""

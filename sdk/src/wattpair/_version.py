"""The client's version, in a file of its own so that nothing has to be imported to read it."""

__version__ = "0.1.0"

"""The versions of the client and of its contract, in a file of their own so that nothing has to be imported to read them."""

__version__ = "0.1.0"
CONTRACT_VERSION = "1.0.0"

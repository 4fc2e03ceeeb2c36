"""One file for each operation, with its schemas."""

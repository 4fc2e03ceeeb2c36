"""One file for each operation: its schemas, and what it calls."""

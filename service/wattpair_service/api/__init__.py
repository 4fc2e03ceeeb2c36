"""The HTTP interface: one file for each resource, with its schemas."""

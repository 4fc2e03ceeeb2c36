"""HTTP: one file for each resource, its schemas beside it."""

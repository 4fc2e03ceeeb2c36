"""Energy of faces and roofs over a year and over the lifetime."""

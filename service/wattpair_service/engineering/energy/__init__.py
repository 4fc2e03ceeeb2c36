"""Energy of faces and roofs over the year and the years."""

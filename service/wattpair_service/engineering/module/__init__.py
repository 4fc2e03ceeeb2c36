"""A module's current-voltage curve, cell temperature, and DC response on a face."""

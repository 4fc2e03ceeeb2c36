"""Sun, sky, and the irradiance on each face, within the hour too."""

"""Sun, sky, irradiance on each face, and subhourly variability."""

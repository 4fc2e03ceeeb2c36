"""Shade on the modules of a face: what throws it, what each part of a module sees of the sky, and what that costs."""

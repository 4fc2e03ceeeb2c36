"""What makes the image, looks at it, and tells what it is made of."""

NOT_DONE = 77
"""Exit status of a check that could not be made here and has said why; `tests/check.py` repeats it in its last line."""

"""How many modules fit on a face, and what they weigh."""

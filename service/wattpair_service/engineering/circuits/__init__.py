"""Branch circuits, voltage rise and the grid connection."""

"""The charts of the sheet, one file each: plain SVG at its own size, told apart by form and label, never by colour alone."""

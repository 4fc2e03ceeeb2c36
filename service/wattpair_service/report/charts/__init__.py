"""The charts of the sheet, one file each: plain SVG at actual size, readable without colour."""

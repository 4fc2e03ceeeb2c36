"""Money over time, prices and replacements."""

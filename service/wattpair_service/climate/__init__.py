"""Weather readers and the built-in climate; all give Conditions."""

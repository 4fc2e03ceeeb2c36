"""Cash flows over the years, prices of a bill, and expected replacements."""

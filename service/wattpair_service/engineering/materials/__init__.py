"""The bill of materials."""

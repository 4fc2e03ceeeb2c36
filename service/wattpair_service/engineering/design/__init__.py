"""The whole job for one roof."""

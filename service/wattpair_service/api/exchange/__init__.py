"""Reads requests, and writes responses in the requested media type."""

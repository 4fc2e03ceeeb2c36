"""Conversion and limits of a microinverter, and electrical checks of its pairing with a module."""

"""Pure functions and frozen dataclasses: no Flask, no files, no clock, no environment."""

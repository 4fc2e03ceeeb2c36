"""The rounding error that must not decide whether a value is within its limit."""

ROUNDING = 1e-9
"""Relative, or in whole units where a count is rounded up or down [1]."""

"""What every request passes: key, rate, admission; and what is counted and logged of it."""

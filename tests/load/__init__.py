"""The service under gunicorn on loopback: load, and bad days."""

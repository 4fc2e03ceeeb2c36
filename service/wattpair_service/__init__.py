"""The wattpair service: pairs PV modules with microinverters."""

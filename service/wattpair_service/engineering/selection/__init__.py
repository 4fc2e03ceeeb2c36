"""Which microinverter to buy for a roof."""

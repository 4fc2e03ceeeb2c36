"""What a microinverter makes of a module, and whether the two may be joined."""

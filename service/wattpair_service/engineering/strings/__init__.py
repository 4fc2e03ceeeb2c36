"""Modules in strings on a string inverter, beside microinverters on the same roof."""

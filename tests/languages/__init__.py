"""Clients that other tools make from the contract, in several languages."""

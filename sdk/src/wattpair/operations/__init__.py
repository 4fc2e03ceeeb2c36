"""The operations of the service, a file for each group of them."""

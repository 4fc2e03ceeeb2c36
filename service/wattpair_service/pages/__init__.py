"""The web pages, with all files that they load."""

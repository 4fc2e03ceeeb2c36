"""The pages for people, with everything that they load."""

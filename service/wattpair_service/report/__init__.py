"""The sheet: one answer as a page for people to read, print and send, in the company's own name."""

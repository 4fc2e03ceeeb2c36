"""The customer's sheet: a design as a page to read, print and send, under the company's name."""

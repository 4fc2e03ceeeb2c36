"""The one catalogue of all words, in each language: of the API's own English, and of the sheet."""

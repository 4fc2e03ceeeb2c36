"""What the parts of the sheet say: figures, sentences, tables and drawings of a design."""

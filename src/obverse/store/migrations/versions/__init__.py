"""One module per change of the tables, in order."""

"""The fleet folder: a whole fleet as plain tables, read in and written out."""

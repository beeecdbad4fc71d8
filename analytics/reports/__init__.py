"""Page-ready answers: rows of the record and derived rows, put into words."""

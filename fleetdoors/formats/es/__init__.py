"""Spanish as it is written in the yards of North America."""

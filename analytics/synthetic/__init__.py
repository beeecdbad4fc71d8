"""A made-up fleet with known truth: numpy arrays in, the tables of a fleet folder out."""

"""Forms of what we have."""

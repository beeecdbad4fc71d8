"""What other systems may put on record."""

"""What other systems may read."""

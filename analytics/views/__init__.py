"""Pages of what it means."""

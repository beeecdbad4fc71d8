"""What a person chooses on the pages of what it means."""

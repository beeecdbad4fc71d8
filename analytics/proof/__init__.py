"""What the methods are claimed to do, measured anew on made fleets with known truth."""

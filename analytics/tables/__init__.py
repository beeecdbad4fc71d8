"""Listings of what it means."""

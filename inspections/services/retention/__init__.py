"""Letting the records of doors go that left the fleet, never before their time."""

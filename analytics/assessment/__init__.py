"""From the fleet's record as arrays to what the kernel makes of it; shared by all who ask."""

"""How other systems are let in: tokens, rights, depots, and how often."""

"""The contact sheet: every page of three fleets, photographed; `make sheet`."""

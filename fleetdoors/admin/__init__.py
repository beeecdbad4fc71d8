"""The registry: what an administrator keeps by form."""

from fleetdoors.admin import catalogue, doors, people, tasks, trucks

__all__ = ["catalogue", "doors", "people", "tasks", "trucks"]

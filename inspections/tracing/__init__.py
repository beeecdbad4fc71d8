"""Fault tracing: a tree kept as data, and the engine that walks it. Nothing here knows Django."""

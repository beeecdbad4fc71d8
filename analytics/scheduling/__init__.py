"""Plans worked out, kept, moved by hand and accepted."""

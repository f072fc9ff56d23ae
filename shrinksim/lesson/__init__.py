"""A lesson page for apprentices, with computed states."""

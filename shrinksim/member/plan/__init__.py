"""The plan of heats: where, how large, how many, and when to stop."""

"""Runs of cases: one, many through the store, and their results on the disk."""

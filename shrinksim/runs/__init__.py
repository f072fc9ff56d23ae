"""Runs of cases: one case, many through the store, and pages of results."""

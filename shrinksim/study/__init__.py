"""Studies: variants of a case as a table."""

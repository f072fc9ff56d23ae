"""Parameter studies: variants of a case as a table."""

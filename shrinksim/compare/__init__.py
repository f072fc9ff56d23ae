"""Cases side by side, their differences against their numerical error."""

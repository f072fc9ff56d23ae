"""The job file: a measured member, its tolerance, how it lies."""

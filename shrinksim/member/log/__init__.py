"""Heats that were given, and what they teach about heats to come."""

"""Quantities with their units, to SI and back."""

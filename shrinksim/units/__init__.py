"""Quantities with units, to SI and back."""

"""Compiled point functions and element sweeps."""

"""Finite-element numerics that know nothing of steel shops."""

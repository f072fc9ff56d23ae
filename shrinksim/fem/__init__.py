"""Finite-element numerics, independent of sections, steels and torches."""

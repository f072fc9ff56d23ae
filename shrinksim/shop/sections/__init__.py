"""Shapes of sections, one file each, that answer through one interface."""

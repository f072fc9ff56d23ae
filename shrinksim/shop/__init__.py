"""Sections, steels, flames, cooling laws and heat patterns."""

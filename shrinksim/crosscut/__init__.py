"""The section view: a member heated along its length, seen in its cross-section."""

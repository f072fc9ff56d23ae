"""The section view: a member heated along its length, in its cross-section."""

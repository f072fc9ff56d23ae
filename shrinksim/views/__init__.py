"""Views of a member: each a folder that exports one record."""

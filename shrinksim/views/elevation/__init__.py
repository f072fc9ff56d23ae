"""The elevation view: a member heated in its plane, seen from the side."""

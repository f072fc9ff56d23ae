"""The measured shape: readings, fitted bends, tolerance."""

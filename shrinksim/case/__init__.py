"""Text with units to SI, and the case file to a validated record."""

"""Case files: reading, checking and writing the tables that all views share."""

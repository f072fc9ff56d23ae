"""The process: the machine, stops, files written whole, progress."""

"""The process: set-up, stop signals, atomic writing of files, progress."""

"""The commands, one module each: its options and what it does.

Importing a module here is light: what a command needs it imports when it runs.
"""

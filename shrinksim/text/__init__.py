"""Text of users: read from files, quoted in messages."""

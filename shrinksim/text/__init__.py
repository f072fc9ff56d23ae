"""Text files of users, and their quotation in messages."""

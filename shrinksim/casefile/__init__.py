"""Tables of case files, to SI and back: what all views of a member share."""

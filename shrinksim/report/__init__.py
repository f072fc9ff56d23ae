"""The results folder of a run: page, pictures, numbers, fields."""

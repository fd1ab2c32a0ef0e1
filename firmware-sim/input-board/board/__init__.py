"""The input board: one description, and what is made of it."""

"""Drawings and lists, all made of the description."""

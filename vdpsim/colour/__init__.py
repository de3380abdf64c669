"""Colours apart from any chip: spaces, distances, and what a picture file says of its own."""

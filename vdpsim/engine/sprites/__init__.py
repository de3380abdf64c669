"""Sprites: who lies on a line, and the dots that they show."""

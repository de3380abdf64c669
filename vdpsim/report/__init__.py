"""Frames shown to people: animations, and what is to be said before they are shown."""

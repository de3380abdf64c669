"""What a page tells of a scene's frames, as plain data."""

"""Frames that were recorded, and what a frame drawn now has that they have not."""

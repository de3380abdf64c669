"""Frames explained on one page, and the page that follows the files."""

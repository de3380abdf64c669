"""Cells in columns and rows: where they lie in memory, and how tables of a scene lay them."""

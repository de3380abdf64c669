"""Sheets of sprites: cut into drawings, coloured, and numbered as the chip numbers patterns."""

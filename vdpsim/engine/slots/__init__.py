"""The engine of a chip with a time table: every fetch finds its slot, or is missed."""

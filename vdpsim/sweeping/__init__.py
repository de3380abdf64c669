"""Every combination of some fields of a chip file, each with its figures."""

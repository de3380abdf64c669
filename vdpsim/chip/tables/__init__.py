"""The tables of a chip file, one module a subject, and the kinds of value that stand in them."""

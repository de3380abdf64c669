"""A chip's numbers as constants in four languages: one table of names and values, one writer a language."""

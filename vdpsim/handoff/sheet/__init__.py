"""A chip's data sheet: one description of it, as a page and as Markdown."""

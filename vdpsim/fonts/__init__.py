"""Font files of five kinds, read as glyphs."""

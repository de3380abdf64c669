"""TOML, read in bounds with places and plain words for mistakes, and written."""

"""Pictures apart from any chip: read, enlarged, compared, written as PNG."""

"""A budget in words, tables and plain data."""

"""A capture held against an exported folder."""

"""The drawings of a data sheet."""

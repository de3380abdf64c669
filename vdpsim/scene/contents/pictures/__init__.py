"""Pictures whose indices are palette entries, cut into the pieces that a cell colours."""

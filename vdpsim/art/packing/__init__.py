"""Sets of colours into banks: the search, and the bound that says when there is no way."""

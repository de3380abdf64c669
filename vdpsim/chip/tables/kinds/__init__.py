"""The kinds of mode that a layer can have, one module a kind."""

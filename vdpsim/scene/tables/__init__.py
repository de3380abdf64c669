"""The tables of a scene file, as immutable models: what a key means, its unit and its range."""

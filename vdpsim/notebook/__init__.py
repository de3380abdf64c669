"""What the things of this package look like in a notebook."""

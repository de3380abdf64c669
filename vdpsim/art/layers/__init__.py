"""Pictures on a layer: cut, coloured, merged where they are too many, and written as a map or a bitmap."""

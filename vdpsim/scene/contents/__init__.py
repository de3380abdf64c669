"""What a scene puts into memory: patterns, maps, pictures, texts, sprites."""

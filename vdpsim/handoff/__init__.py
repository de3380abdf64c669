"""What a chip's makers need to hold their hardware against the model, as files in open formats."""

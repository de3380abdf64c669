"""Pictures of what a chip's makers read, as SVG: lines and text, no dots."""

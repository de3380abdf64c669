"""A chip of one's own from a few answers: the chip's file, a scene, a little art and a test, as a folder that works at once."""

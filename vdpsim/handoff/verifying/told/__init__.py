"""What came of a capture: in words, as data, as a picture."""

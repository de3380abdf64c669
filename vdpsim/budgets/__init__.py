"""Does a chip fit, and what does it cost."""

"""What was fitted, as scene and chip files, and as pictures to look at."""

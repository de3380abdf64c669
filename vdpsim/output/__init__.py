"""A frame as it leaves the program: a picture, a log, the line's time, an animation."""

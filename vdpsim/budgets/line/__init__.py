"""The slots of a line, proved: what may be asked, the worst of it, and a scene that shows it."""

"""A chip's time: rates, displays, who asks the memory on a line, and who gets which slot."""

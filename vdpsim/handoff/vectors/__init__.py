"""What goes into hardware and what is to come out of it: memory images, stimulus, expected records."""

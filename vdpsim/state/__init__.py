"""What a chip holds while it runs, and the timed writes that change it."""

"""What crosses the doors: arguments checked on the way in, values shown or made plain on the way out."""

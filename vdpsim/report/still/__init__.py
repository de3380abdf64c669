"""What stands in a page as it is, with scripts or without."""

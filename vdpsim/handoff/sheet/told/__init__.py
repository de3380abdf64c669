"""What stands in a data sheet, section by section."""

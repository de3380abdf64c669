"""What one hardware design is: its model, bit layouts, controls and registers."""

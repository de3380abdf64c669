"""What can be asked of a frame, one module for each thing that it is asked of."""

"""What is said and shown of a check that fails."""

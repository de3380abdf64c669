"""A chip that runs, for programs: state and engine behind names."""

"""Records as plain text: their kinds and columns, and the index that says what their numbers mean."""

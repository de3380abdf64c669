"""What timed writes write, by what they write to: each kind of table resolved on its own."""

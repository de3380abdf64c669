"""What makes a shell complete vdpsim's words: a table from the parser, and a script for each shell from the table."""

"""What vdpsim is used for, ready to be run and to be copied."""

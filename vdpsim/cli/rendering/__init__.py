"""Parts of ``vdpsim render``: what a command line asks for, what is wrong with it, and what is written of a frame."""

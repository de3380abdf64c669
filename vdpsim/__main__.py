"""``python -m vdpsim``: the command line."""

from .cli import command

command()

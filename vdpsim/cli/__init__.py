"""The command line: one small file a command, and nothing that a Python program could not do by itself."""

from .main import command, main

__all__ = ["command", "main"]

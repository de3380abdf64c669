"""The command line: one small file a command, and nothing that a Python program could not do by itself."""

from .main import main

__all__ = ["main"]

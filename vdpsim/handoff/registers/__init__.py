"""A chip's address map for its makers: SystemRDL, a document, and a drawing of each register."""

from .files import register_files

__all__ = ["register_files"]

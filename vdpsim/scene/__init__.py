"""What a chip is asked to show: scene files, their assets, and the state they describe."""

from .load import load_scene
from .scene import Scene

__all__ = ["Scene", "load_scene"]

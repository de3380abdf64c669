"""The guide: how a chip goes from an idea to the hardware side, recipes, the reference of both formats, the model, the words."""

from .pages import GROUPS, page, titles
from .site import site
from .worked import files_of

__all__ = ["GROUPS", "files_of", "page", "site", "titles"]

"""The chip file's and the scene file's shape as JSON Schema, for editors that complete and check.

Law: made from the same models that read the files; never written by hand.
"""

from __future__ import annotations

from typing import Any, Literal

from pydantic import BaseModel

from ..chip.model import Chip
from ..door.given import text
from ..door.shown import value as shown
from .model import SceneFile

MODELS: dict[str, type[BaseModel]] = {"chip": Chip, "scene": SceneFile}


def schema(kind: Literal["chip", "scene"]) -> dict[str, Any]:
    """The JSON Schema (2020-12) of a chip file or a scene file. Raises KeyError for another kind."""
    if text("kind", kind) not in MODELS:
        raise KeyError(f"kind must be {' or '.join(MODELS)}, got {shown(kind)}")
    found = MODELS[kind].model_json_schema()
    return {"$schema": "https://json-schema.org/draft/2020-12/schema", **found}

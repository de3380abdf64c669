"""Tests of chips and scenes: what must hold of a frame, said as a designer says it.

Law: the door of the test kit. Each name is loaded when it is first asked for. Nothing else of vdpsim knows this room. A
check that fails raises CheckFailedError, an AssertionError, in pytest, unittest and a notebook alike; what a check is wrongly
asked is a ValueError or TypeError. ``tutorial.md`` beside this file builds a priority rule with it, test first.

>>> frame = scene("flock").frame(0)
>>> assert_sprites(frame).on_every_line().at_most(12)
>>> assert_source(frame, line=35, dot=16).shows("sprites").before("far")
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from ..door.lazy import names_of

if TYPE_CHECKING:
    from ..chip.load import chip_text
    from .building import build_chip, build_scene, parse_scene, rows_of, scene_text
    from .claims.fetches import assert_fetches
    from .claims.frames import assert_frame, assert_same
    from .claims.rules import assert_rule
    from .claims.sources import assert_source
    from .claims.sprites import assert_sprite, assert_sprites
    from .failing import CheckFailedError, UnfinishedCheckWarning, soft
    from .finding import Finding
    from .fixtures import PlayedScene, played
    from .using import use

__all__ = [  # noqa: RUF022 - grouped by theme
    # what must hold of a frame
    "assert_sprites", "assert_sprite", "assert_fetches", "assert_source", "assert_frame", "assert_same",
    # and of a rule
    "assert_rule",
    # how it fails
    "soft", "use", "CheckFailedError", "Finding", "UnfinishedCheckWarning",
    # chips and scenes without files
    "build_chip", "build_scene", "parse_scene", "chip_text", "scene_text", "rows_of", "played", "PlayedScene",
]  # fmt: skip

_HOMES = {
    "..chip.load": ("chip_text",),
    ".building": ("build_chip", "build_scene", "parse_scene", "rows_of", "scene_text"),
    ".claims.fetches": ("assert_fetches",),
    ".claims.frames": ("assert_frame", "assert_same"),
    ".claims.rules": ("assert_rule",),
    ".claims.sources": ("assert_source",),
    ".claims.sprites": ("assert_sprite", "assert_sprites"),
    ".failing": ("CheckFailedError", "UnfinishedCheckWarning", "soft"),
    ".finding": ("Finding",),
    ".fixtures": ("PlayedScene", "played"),
    ".using": ("use",),
}
__getattr__, __dir__ = names_of(__name__, _HOMES)

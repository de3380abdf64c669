"""Chips, scenes and machines for a test: by a name, a path or a text, or as its marker says.

Law: a text with a line break is a file's text; anything else is a path, with or without the file's usual ending, looked for in
the folders of ``Places`` in their order, and the first that is there is taken. What is in none of them is a shipped name, such as
``curlew:flock``, or is told with all of these.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path
from typing import TYPE_CHECKING, Any

from ..chip.load import load_chip, parse_chip
from ..chip.model import Chip
from ..door.shown import shown_path
from ..door.shown import value as shown
from ..engine import Rule
from ..machine.machine import Machine, frames, render
from ..output.frame import Frame
from ..scene import Scene, load_scene
from .building import chip_of, scene_of

if TYPE_CHECKING:
    import pytest


class PlayedScene(Scene):
    """A Scene that draws itself."""

    def frame(
        self,
        number: int = 0,
        *,
        rule: Rule | None = None,
        planes: bool = False,
        damage: bool = False,
        trace: bool = False,
    ) -> Frame:
        """Frame ``number``, as ``vdpsim.render`` draws it and with what that raises."""
        return render(self, number, rule, planes=planes, damage=damage, trace=trace)

    def every_frame(self) -> list[Frame]:
        """All frames that the scene is meant to run. Raises as ``vdpsim.frames`` does."""
        return list(frames(self, range(self.frames)))

    def machine(self, number: int = 0) -> Machine:
        """A machine at the start of frame ``number``."""
        return Machine.of(self, number)


def played(scene: Scene) -> PlayedScene:
    """``scene`` as one that draws itself."""
    return scene if isinstance(scene, PlayedScene) else scene.made_as(PlayedScene)


@dataclass(frozen=True)
class Places:
    """The folders in which a test's files are looked for, and what its marker says."""

    folders: tuple[Path, ...]
    marked: Mapping[str, Any]

    @classmethod
    def of(cls, request: pytest.FixtureRequest) -> Places:
        """Of a test: its own folder, the folder ``scenes`` in it, and both of pytest's root."""
        here, root = request.path.parent, request.config.rootpath
        marked: dict[str, Any] = {}
        for mark in reversed(list(request.node.iter_markers("vdpsim"))):
            wrong = sorted({*mark.kwargs} - {"scene", "chip"})
            if mark.args or wrong:
                given = [shown(one) for one in mark.args] + wrong
                raise ValueError(f"the marker vdpsim takes scene= and chip=, got {', '.join(given)}")
            marked |= mark.kwargs
        return cls(tuple(dict.fromkeys((here, here / "scenes", root, root / "scenes"))), marked)

    def path(self, given: str | Path, ending: str, *, inner: str = "") -> Path:
        """The file that is meant. Raises ValueError where it is in none of the folders."""
        found = self._found(Path(given), ending, inner)
        if found is None:
            looked = ", ".join(shown_path(folder) for folder in self.folders)
            raise ValueError(
                f"{shown(str(given))} is no shipped name, and no file, with or without {ending}, in any of {looked}"
            )
        return found

    def _found(self, name: Path, ending: str, inner: str) -> Path | None:
        names = (name, name.with_name(name.name + ending)) if name.name else ()
        for folder in self.folders:
            for place in (folder, folder / inner) if inner else (folder,):
                for each in names:
                    if (place / each).is_file():
                        return place / each
        return _shipped(str(name), ending)

    def asked(self, what: str, given: Any) -> Any:
        """What was given, or what the marker says. Raises ValueError where there is neither."""
        found = self.marked.get(what) if given is None else given
        if found is None:
            raise ValueError(f"say which {what}: as an argument, or with @pytest.mark.vdpsim({what}=...)")
        return found


def _shipped(name: str, ending: str) -> Path | None:
    """The file of a shipped name, on the scene's own chip; None where there is none such."""
    from ..shipped.files import CHIP, UnknownNameError, chip_named, scene_named  # noqa: PLC0415 - few tests ask for one

    try:
        found, chip = (chip_named(name), None) if ending == CHIP else scene_named(name)
    except UnknownNameError:
        return None
    if chip is not None:
        raise ValueError(f"{shown(name)} is a scene of another chip: say {found.name}, with chip={chip.name!r}")
    return found.path


@dataclass(frozen=True)
class GivenChip:
    """What the fixture ``chip`` is: call it."""

    places: Places

    def __call__(self, given: Any = None) -> Chip:
        """The chip of a name, path or text; one that is a Chip already, or data as a chip file has it; None: the marker's.

        Raises InputError with the mistakes in it, ValueError where it is not found.
        """
        asked = self.places.asked("chip", given)
        if isinstance(asked, Chip):
            return asked
        if isinstance(asked, Mapping):
            return chip_of(asked)
        if isinstance(asked, str) and "\n" in asked:
            return parse_chip(asked)
        return load_chip(self.places.path(asked, ".chip.toml", inner="chips"))


@dataclass(frozen=True)
class GivenScene:
    """What the fixture ``scene`` is: call it."""

    places: Places

    @cached_property
    def _chip(self) -> GivenChip:
        return GivenChip(self.places)

    def __call__(self, given: Any = None, chip: Any = None) -> PlayedScene:
        """The scene of a name, path or text; one that is a Scene already, or data as a scene file has it; None: the marker's.

        On its own chip, or on ``chip``, given as to the fixture ``chip``; a text or data need one, and take the marker's. Raises
        InputError with the mistakes in it, ValueError where it is not found.
        """
        asked = self.places.asked("scene", given)
        if isinstance(asked, Scene):
            return played(asked)
        other = self.places.marked.get("chip") if chip is None else chip
        if isinstance(asked, Mapping) or (isinstance(asked, str) and "\n" in asked):
            folder = self.places.folders[0]
            return played(scene_of(asked, None if other is None else self._chip(other), folder))
        return played(load_scene(self.places.path(asked, ".scene.toml"), None if other is None else self._chip(other)))


@dataclass(frozen=True)
class GivenMachine:
    """What the fixture ``machine`` is: call it."""

    places: Places

    def __call__(self, given: Any = None) -> Machine:
        """A machine at reset of a chip, given as to the fixture ``chip``; of a Scene: one at the start of its frame 0.

        None: of the marker's chip or, where it has none, of its scene.
        """
        if isinstance(given, Scene):
            return Machine.of(given)
        if given is None and "chip" not in self.places.marked and "scene" in self.places.marked:
            return GivenScene(self.places)().machine()
        return Machine(GivenChip(self.places)(given))

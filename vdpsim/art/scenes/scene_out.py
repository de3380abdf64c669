"""Art that was fitted as a scene: a scene file with its assets, which draws just what the report speaks of.

Law: files appear together or not at all, and only a scene that loads is written. Assets are raw bytes as they lie in memory, so
that they can go into the machine as they are. Each layer shows one picture: a second one for it makes a second scene, with
the same palette.
"""

from __future__ import annotations

import tempfile
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from ...chip.controls import PICTURE_SIZE, name_of
from ...chip.load import chip_text
from ...chip.model import BitmapMode, Chip, TextMode, TilesMode
from ...chip.registers import at_largest, field_names, rest_values
from ...door.given import instance, items
from ...door.given import path as path_of
from ...files import Outputs
from ...files.packed import read
from ...files.problems import InputError, Problem
from ...files.toml.out import table
from ...files.toml.tables import LARGEST
from ...images.png import png_bytes
from ...scene.contents.formats import format_of, sprite_format
from ...scene.load import load_scene
from ..colours.reach import rung_fields
from ..results import Art, GlyphArt, LayerArt, SpriteArt, slug
from .encode import bitmap_bytes, colour_bytes, map_bytes, pattern_bytes, shown_colour
from .hidden import NamedTable, nothing
from .looks import bank_map, compared
from .show import lettered, standing

AnyArt = Art | GlyphArt


@dataclass
class _SceneDraft:
    """A scene to be: who shows where, its tables and its files; ``needed``: fields of registers that have to have a value."""

    name: str
    arts: list[AnyArt] = field(default_factory=list)
    tables: list[NamedTable] = field(default_factory=list)
    registers: dict[str, int] = field(default_factory=dict)
    files: dict[str, bytes] = field(default_factory=dict)
    needed: dict[str, int] = field(default_factory=dict)


def save(arts: Sequence[AnyArt], folder: str | Path, chip_file: str | Path | None = None) -> list[Path]:
    """Write everything about ``arts``, which were fitted together, into ``folder``; the files' paths, scenes first.

    NAME.scene.toml for each scene, its assets, the chip's file (a copy of ``chip_file`` or, left out, written anew), and of
    each picture NAME-compare.png, NAME-banks.png and NAME-report.txt. Raises InputError where the chip's memory has no room for
    a scene, or ``chip_file`` cannot be read; nothing is written then. Files of these names that are there already are
    written over. Raises OSError as the system does, ValueError for art that was not fitted together.
    """
    arts = [instance("each of arts", art, AnyArt, "fitted art") for art in items("arts", arts, "pieces of fitted art")]
    folder = path_of("folder", folder)
    chip_file = None if chip_file is None else path_of("chip_file", chip_file)
    if not arts:
        return []
    _together(arts)
    with Outputs() as outputs:
        return put(outputs, arts, folder, chip_file)


def _together(arts: Sequence[AnyArt]) -> None:
    """Raise ValueError where files would have one name, or a scene would show art with another's palette or chip."""
    first = next((art for art in arts if isinstance(art, Art)), None)
    names = [art.name for art in arts]
    for art in arts:
        if art.chip != arts[0].chip:
            raise ValueError(f"arts must be fitted to one chip, got {arts[0].chip.name} and {art.chip.name}")
        if isinstance(art, Art) and first is not None and art.palette != first.palette:
            raise ValueError(f"arts must be fitted together, got other palettes for {first.name} and {art.name}")
        if names.count(art.name) > 1:
            raise ValueError(f"arts must have names of their own, got {art.name} twice")


def put(
    outputs: Outputs, arts: Sequence[AnyArt], folder: str | Path, chip_file: str | Path | None = None
) -> list[Path]:
    """As ``save``, into ``outputs``: what is there already is as safe as these make it."""
    files = contents(arts, chip_file)
    with tempfile.TemporaryDirectory() as place:
        for name, data in files.items():
            Path(place, name).write_bytes(data)
        for name in files:
            if name.endswith(".scene.toml"):
                _try(Path(place, name), arts)
    for name, data in files.items():
        outputs.add(Path(folder) / name, data)
    return [Path(folder) / name for name in files]


def _try(path: Path, arts: Sequence[AnyArt]) -> None:
    """Raise InputError where the scene does not load."""
    try:
        load_scene(path)
    except InputError as error:
        told = "; ".join(dict.fromkeys(problem.message for problem in error.problems))
        raise InputError([Problem(arts[0].name, 0, "", f"{arts[0].chip.name} cannot take the scene: {told}")]) from None


def contents(arts: Sequence[AnyArt], chip_file: str | Path | None = None) -> dict[str, bytes]:
    """What ``save`` writes: the bytes of each file by its name, scenes first."""
    chip = arts[0].chip
    if chip_file is None:
        chip_name = f"{slug(chip.name)}.chip.toml"  # a stranger's chip can be called "../../x"
        chip_data = chip_text(chip).encode()
    else:
        chip_name, chip_data = Path(chip_file).name, read(chip_file, LARGEST)
    scenes = list(_scenes(arts))
    files = {f"{scene.name}.scene.toml": _text(scene, chip, chip_name).encode() for scene in scenes}
    files[chip_name] = chip_data
    for scene in scenes:
        files.update(scene.files)
    for art in arts:
        files[f"{art.name}-report.txt"] = (
            art.text().encode() if isinstance(art, GlyphArt) else art.report.text().encode()
        )
        if isinstance(art, GlyphArt):
            files[f"{art.name}-glyphs.png"] = png_bytes(art.image)
        else:
            files[f"{art.name}-compare.png"] = png_bytes(compared(art))
            files[f"{art.name}-banks.png"] = png_bytes(bank_map(art))
    return files


def _scenes(arts: Sequence[AnyArt]) -> Iterator[_SceneDraft]:
    """The scenes: each takes the pictures, in order, whose layers it does not show yet."""
    rest = list(arts)
    while rest:
        scene, later, taken = _SceneDraft(rest[0].name), [], set[str]()
        for art in rest:
            layer = art.target.partition(".")[0]
            if layer in taken:
                later.append(art)
                continue
            taken.add(layer)
            scene.arts.append(art)
            _add(scene, art)
        rest = later
        _others(scene, taken)
        yield scene


def _add(scene: _SceneDraft, art: AnyArt) -> None:
    if isinstance(art, GlyphArt):
        _add_glyphs(scene, art)
    elif isinstance(art, SpriteArt):
        _add_sprites(scene, art)
    else:
        assert isinstance(art, LayerArt)
        _set_all(scene, art.registers)
        _add_layer(scene, art)


def _mode(chip: Chip, target: str) -> TilesMode | BitmapMode | TextMode:
    layer, _, mode = target.partition(".")
    return chip.layer(layer).mode(mode)


def _add_layer(scene: _SceneDraft, art: LayerArt) -> None:
    mode = _mode(art.chip, art.target)
    if isinstance(mode, BitmapMode):
        scene.files[f"{art.name}.bitmap"] = bitmap_bytes(mode, art.bitmap)
        scene.tables.append(("bitmaps", {"for": art.target, "raw": f"{art.name}.bitmap"}))
        if mode.colours is not None:
            scene.files[f"{art.name}.colours"] = colour_bytes(art.chip, mode.colours, art.colours)
            scene.tables.append(("colours", {"for": art.target, "raw": f"{art.name}.colours"}))
        return
    assert isinstance(mode, TilesMode)
    scene.files[f"{art.name}.patterns"] = pattern_bytes(format_of(mode), art.patterns)
    scene.files[f"{art.name}.map"] = map_bytes(art.chip, mode, art.map)
    scene.tables.append(("patterns", {"name": art.name, "for": art.target, "at": 0, "raw": f"{art.name}.patterns"}))
    scene.tables.append(("maps", {"for": art.target, "raw": f"{art.name}.map"}))


def _add_sprites(scene: _SceneDraft, art: SpriteArt) -> None:
    sprites = art.chip.sprites
    assert sprites is not None
    for size, images in art.images.items():
        name = f"{art.name}_{size[0]}x{size[1]}"
        scene.files[f"{name}.patterns"] = pattern_bytes(sprite_format(sprites, size), images)
        head = {"name": name, "for": "sprites", "at": art.first[size], "size": list(size)}
        scene.tables.append(("patterns", {**head, "raw": f"{name}.patterns"}))
    for number, (sprite, x, y) in enumerate(standing(art)):
        pattern = f"{art.name}_{sprite.size[0]}x{sprite.size[1]}+{sprite.image}"
        told: dict[str, Any] = {"name": f"sprite_{number}", "x": x, "y": y, "pattern": pattern}
        layout = sprites.fields.layout
        fields = {"bank": sprite.bank, "flip_x": sprite.flip_x, "flip_y": sprite.flip_y, "size": list(sprite.size)}
        told.update({name: one for name, one in fields.items() if name in layout and (one or name == "size")})
        told.update(rung_fields(art.chip.ladder, "sprites", layout))
        scene.tables.append(("sprites", told))


def _add_glyphs(scene: _SceneDraft, art: GlyphArt) -> None:
    mode = _mode(art.chip, art.target)
    assert isinstance(mode, TextMode)
    shown = lettered(art, mode)
    _set_all(scene, shown.registers)
    scene.tables += [("palette", {"at": at, "colours": [shade]}) for at, shade in shown.palette.items()]
    scene.files[f"{art.name}.glyphs"] = pattern_bytes(format_of(mode), shown.glyphs)
    scene.tables.append(("patterns", {"for": art.target, "at": shown.first, "raw": f"{art.name}.glyphs"}))
    scene.tables.append(("text", {"for": art.target, "text": shown.text, **shown.colours}))


def _set_all(scene: _SceneDraft, registers: Mapping[str, int]) -> None:
    """Set these; where a field would need two values both stand in the file, which then does not load."""
    for control, value in registers.items():
        if not _set(scene, control, value):
            scene.registers[control] = value


def _set(scene: _SceneDraft, control: str, value: int) -> bool:
    """Let the field that sets ``control`` have ``value``; whether it can, as it may set others too that need another."""
    chip = scene.arts[0].chip
    held = field_names(chip)[control]
    if value > held.top or scene.needed.setdefault(held.name, value) != value:
        return False
    if held.reset != value:
        scene.registers[held.name] = value
    return True


def _others(scene: _SceneDraft, shown: set[str]) -> None:
    """Switch off what the scene does not show; where a layer has no register for it of its own, let it show nothing."""
    chip = scene.arts[0].chip
    held, rest = field_names(chip), rest_values(chip)
    largest = at_largest(chip).frame.number
    if PICTURE_SIZE in held and largest is not None:
        _set(scene, PICTURE_SIZE, largest)
    sources = (*chip.layer_names, *(("sprites",) if chip.sprites else ()))
    for name in sorted(sources, key=lambda source: source not in shown):
        wanted = int(name in shown)
        switched = f"{name}.enable" in held and _set(scene, f"{name}.enable", wanted)
        stays_on = not switched and (f"{name}.enable" in held or rest[f"{name}.enable"])
        if stays_on and not wanted and name != "sprites":
            scene.tables += list(nothing(chip, name, rest.get(f"{name}.mode", 0)))
        if wanted and name != "sprites":
            fixed = {f"{name}.scroll_x": 0, f"{name}.scroll_y": 0, f"{name}.split": chip.frame.height}
            for control, value in fixed.items():
                if control in held:
                    _set(scene, control, value)


def _text(scene: _SceneDraft, chip: Chip, chip_name: str) -> str:
    names = ", ".join(f"{art.name} on {art.target}" for art in scene.arts)
    head = {"name": scene.name, "about": f"Fitted to {chip.name}: {names}.", "chip": chip_name}
    parts = [table("", head).lstrip("\n")]
    palettes = [art.palette for art in scene.arts if isinstance(art, Art)]
    for at, words in _runs(palettes[0] if palettes else {}):
        shades = ["#{:02x}{:02x}{:02x}".format(*shown_colour(chip.palette, word)) for word in words]
        parts.append(table("[[palette]]", {"at": at, "colours": shades}))
    order = ("palette", "patterns", "maps", "bitmaps", "colours", "text", "sprites")
    for name, data in sorted(scene.tables, key=lambda pair: order.index(pair[0])):
        parts.append(table(f"[[{name}]]", data))
    if scene.registers:
        held = field_names(chip)
        named = {name: name_of(held[name].names, value) for name, value in scene.registers.items()}
        parts.append(table("[registers]", named))
    return "\n".join(parts)


def _runs(palette: Mapping[int, int]) -> Iterator[tuple[int, list[int]]]:
    """Entries that follow each other, as the first and their packed words."""
    run: list[int] = []
    start = 0
    for entry in sorted(palette):
        if entry != start + len(run) or not run:
            if run:
                yield start, run
            start, run = entry, []
        run.append(palette[entry])
    if run:
        yield start, run

"""How a line can be brought about: which registers, written when, and which sprites make a line of a picture the wanted one.

Law: what is said here is a proposal; whether the line comes about is for a drawn frame to say. Registers stand as they are
from the scene's beginning, and where a line buffer has to be filled under other settings than it is shown with, they are
written at dot 0 of the line. Plain Python. Knows no file.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from itertools import combinations, islice, product

from ...chip.controls import registers
from ...chip.line.costs import mode_costs, sprite_costs
from ...chip.line.shapes import Stretch
from ...chip.line.slots import Server
from ...chip.model import AnyMode, BitmapMode, Chip, Layer, TextMode, TilesMode
from ..reach import most_accesses
from .ways import Asked, Ways, resolved, sides
from .worst import Line

MOST_SETTINGS = 4_000
"""Choices of settings that are looked through for one line."""

MOST_STAGES = 12
"""Proposals for one line with registers that stay, and as many again with some that are written at the line."""

MOST_CHANGES = 120
"""Changes of registers that are tried for one line."""

MOST_LOOKED = 60_000
"""Settings, each with a change, that are looked through for those."""

Setting = dict[str, int]


@dataclass
class Stage:
    """A proposal: registers at the beginning, those written at dot 0 of a line, and the sprites on a line.

    ``line``: in whose slots the wanted fetches lie, -1 where they lie before the frame's first line; ``frame`` of the scene.
    ``writes``: (frame, line, register, value). ``sprites``: (line, size) of each. ``turned``: the marks of each layer's cells.
    """

    line: int
    frame: int = 0
    registers: Setting = field(default_factory=dict)
    writes: list[tuple[int, int, str, int]] = field(default_factory=list)
    sprites: list[tuple[int, int]] = field(default_factory=list)
    turned: dict[int, tuple[int, bytes]] = field(default_factory=dict)


class Stager:
    """Proposes stages for lines of one chip."""

    def __init__(self, chip: Chip, server: Server, ways: Ways) -> None:
        self.chip, self.server, self.can, self.held = chip, server, ways.can, ways.held
        self.effects = {name: register.effect for name, register in registers(chip).items()}
        self._offers: dict[tuple[int, tuple[int, ...], bool], list[tuple[Asked, Setting]]] = {}
        self._known: dict[object, list[tuple[Setting, Setting]]] = {}

    def stages(self, line: Line) -> Iterator[Stage]:
        """Some proposals for ``line``: first those in which nothing is written."""
        for still in (True, False):
            yield from islice(self._stages(line, still=still), MOST_STAGES)

    def _stages(self, line: Line, *, still: bool) -> Iterator[Stage]:
        crowd = self._crowd(line)
        if crowd is None:
            return
        for place in self._places(line):
            target = place + self.server.sprites_ahead
            if crowd and not self._reaches(target):
                continue
            for before, after in self._settings(line, place, still=still):
                stage = self._staged(line, place, before, after)
                if stage is not None:
                    stage.sprites = [(target, size) for size in crowd]
                    yield stage

    def _places(self, line: Line) -> Iterator[int]:
        """Lines of the picture, those with lines before them first; before the first where the wanted one lies below."""
        height = self.chip.frame.height
        if not line.kind.picture:
            yield -1
            return
        if self._nobody(line):
            yield height - 1
            return
        yield from range(2, height - 1)
        yield from (0, 1, height - 1)

    def _nobody(self, line: Line) -> bool:
        """Whether sprites make no access although they cannot be switched off: after the picture's last line there are none."""
        asked = most_accesses(self.chip)[2]  # a scan, on every other line
        return bool(asked) and not line.sprites and self.server.sprites_ahead and 0 not in self.can["sprites.enable"]

    def _reaches(self, target: int) -> bool:
        sprites, frame = self.chip.sprites, self.chip.frame
        assert sprites is not None
        top = sprites.fields.y.top
        return 0 <= target < frame.height and (target < top or (target == top and sprites.fields.enable is not None))

    # Modes

    def _settings(self, line: Line, place: int, *, still: bool) -> list[tuple[Setting, Setting]]:
        """Registers before the line and from it on that make the layers fetch in the wanted modes; ``still``: the same ones."""
        every = tuple(self._possible(number, max(place, 0)) for number in range(len(self.chip.layers)))
        key = (line.kind, place < 0, still, every)
        if key not in self._known:
            offers = [self._asked(number, *one) for number, one in enumerate(every)]
            found = self._stay(line, place, offers) if still else self._change(line, place, offers)
            self._known[key] = list(islice(found, 2 if still else MOST_CHANGES))
        return [(self._actual(before, place), self._actual(after, place)) for before, after in self._known[key]]

    def _actual(self, setting: Setting, place: int) -> Setting:
        """The setting for this line: splits were kept as the sides on which the line and the next lie."""
        line, found = max(place, 0), dict(setting)
        for name, side in setting.items():
            if name.endswith(".split"):
                split = sides(self.can[name], line, self._after(line))[side]
                assert split is not None
                found[name] = split
        return found

    def _after(self, place: int) -> int | None:
        follows = (place + 1) % self.chip.frame.lines_per_frame
        return follows if follows < self.chip.frame.height else None

    def _possible(self, number: int, place: int) -> tuple[tuple[int, ...], bool]:
        """On which sides of a split the line and the next can lie, and whether no line of the picture follows."""
        layer, after = self.chip.layers[number], self._after(place)
        if len(layer.modes) == 1:
            return (), after is None
        there = sides(self.can[f"{layer.name}.split"], place, after)
        return tuple(side for side in (1, 2, 3, 0) if there[side] is not None), after is None

    def _asked(self, number: int, possible: tuple[int, ...], last: bool) -> list[tuple[Asked, Setting]]:  # noqa: FBT001
        """What the layer can ask for on a line and on the next, and the registers that make it so; a split by its sides."""
        key = (number, possible, last)
        if key not in self._offers:
            self._offers[key] = list(self._offered(self.chip.layers[number], possible, last=last).items())
        return self._offers[key]

    def _offered(self, layer: Layer, possible: Sequence[int], *, last: bool) -> dict[Asked, Setting]:
        name, can, found = layer.name, self.can, dict[Asked, Setting]()
        for enable in can[f"{name}.enable"]:
            if not enable:
                found.setdefault((None, None), {f"{name}.enable": 0})
            elif len(layer.modes) == 1:
                found.setdefault((0, None if last else 0), {f"{name}.enable": 1})
            else:
                for side, mode, below in product(possible, can[f"{name}.mode"], can[f"{name}.below"]):
                    one, two = mode if side in {0, 2} else below, mode if side in {0, 3} else below
                    setting = {f"{name}.enable": 1, f"{name}.split": side, f"{name}.mode": mode, f"{name}.below": below}
                    found.setdefault((one, None if last else two), setting)
        return found

    def _stay(
        self, line: Line, place: int, offers: Sequence[Sequence[tuple[Asked, Setting]]]
    ) -> Iterator[tuple[Setting, Setting]]:
        """Settings under which the layers fetch as is wanted when they were in force before."""
        for pairs in islice(product(*self._fitting(line, place, offers)), MOST_SETTINGS):
            here, ahead = zip(*(asked for asked, _ in pairs), strict=True)
            if self._fetched(here, here if place < 0 else ahead) == line.kind.modes:
                setting = {name: value for _, one in pairs for name, value in one.items()}
                yield setting, setting

    def _change(
        self,
        line: Line,
        place: int,
        offers: Sequence[Sequence[tuple[Asked, Setting]]],
    ) -> Iterator[tuple[Setting, Setting]]:
        """Settings of which the first is in force before: line buffers were filled under it, and cells kept or not."""
        if place < 0:
            return
        others = [
            (number, old)
            for number, each in enumerate(offers)
            for old in {asked[0]: one for asked, one in each}.items()
        ]
        changes = [(one,) for one in others] + [pair for pair in combinations(others, 2) if pair[0][0] != pair[1][0]]
        settings = islice(product(*self._fitting(line, place, offers)), MOST_SETTINGS)
        for pairs, change in islice(((pairs, change) for pairs in settings for change in changes), MOST_LOOKED):
            after = {name: value for _, one in pairs for name, value in one.items()}
            here, before = [asked[0] for asked, _ in pairs], dict(after)
            for number, (mode, setting) in change:
                here[number] = mode if self.held[number] else here[number]
                before |= setting
            if self._fetched(here, [asked[1] for asked, _ in pairs]) == line.kind.modes:
                yield before, after

    def _fitting(
        self, line: Line, place: int, offers: Sequence[Sequence[tuple[Asked, Setting]]]
    ) -> list[list[tuple[Asked, Setting]]]:
        """Of each layer's offers those that ask for the mode that is wanted; any, where it is to be off: others may see to it."""
        return [
            [one for one in each if mode is None or one[0][held and place >= 0] == mode]
            for mode, held, each in zip(line.kind.modes, self.held, offers, strict=True)
        ]

    def _fetched(self, here: Sequence[int | None], ahead: Sequence[int | None]) -> tuple[int | None, ...]:
        now, next_ = resolved(self.chip, here), resolved(self.chip, ahead)
        return tuple(two if held else one for one, two, held in zip(now, next_, self.held, strict=True))

    # One place

    def _staged(self, line: Line, place: int, before: Setting, after: Setting) -> Stage | None:
        """The stage with these settings, scrolled as is wanted; None where that cannot be."""
        stage = Stage(place, registers=dict(before))
        changed = {name: value for name, value in after.items() if before.get(name) != value}
        late = [name for name in changed if self.effects.get(name) == "next frame"]
        if late and place > 0:
            return None
        stage.frame = 1 if changed and place == 0 else 0
        for name, value in changed.items():
            ahead = self.effects.get(name) != "at once"
            if stage.frame:
                stage.writes.append(
                    (0, self.chip.frame.lines_per_frame - 1, name, value) if ahead else (1, 0, name, value)
                )
            else:
                stage.writes.append((0, place - ahead, name, value))
        for number, (layer, stretch) in enumerate(zip(self.chip.layers, line.layers, strict=True)):
            mode = line.kind.modes[number]
            if mode is None:
                continue
            of = max(place, 0) + self.held[number] if place >= 0 else 0
            of %= self.chip.frame.lines_per_frame
            fresh = of == 0 or self._mode(layer, before, of - 1) != mode
            if not self._scrolled(stage, layer, layer.modes[mode], stretch, of, after, fresh=fresh):
                return None
            if stretch is not None and isinstance(layer.modes[mode], TilesMode):
                stage.turned[number] = (mode, stretch.turned)
        stage.registers = {name: value for name, value in stage.registers.items() if name in self.effects}
        return stage

    @staticmethod
    def _mode(layer: Layer, setting: Setting, line: int) -> int | None:
        """The mode that the layer asks for on a line."""
        if not setting[f"{layer.name}.enable"]:
            return None
        if len(layer.modes) == 1:
            return 0
        return setting[f"{layer.name}.{'mode' if line < setting[f'{layer.name}.split'] else 'below'}"]

    def _scrolled(
        self,
        stage: Stage,
        layer: Layer,
        mode: AnyMode,
        stretch: Stretch | None,
        line: int,
        setting: Setting,
        *,
        fresh: bool,
    ) -> bool:
        """Scroll the layer so that it fetches ``stretch`` for ``line``, and keeps its cells or not; ``fresh``: there are none."""
        split = setting.get(f"{layer.name}.split", 0)
        own = line - split if mode.origin == "zone" and line >= split else line
        if isinstance(mode, TextMode):
            if (own // mode.glyph[1] >= mode.rows) != (stretch is None):
                return False
            return stretch is None or self._same(layer, mode.glyph[1], stretch, own, fresh=fresh)
        # a map of one row shows the same row on every line
        tall = None if isinstance(mode, BitmapMode) else mode.tile if mode.rows > 1 else 2 * self.chip.frame.height
        if stretch is None or not mode.scroll:
            return stretch is None or tall is None or self._same(layer, tall, stretch, own, fresh=fresh)
        size = mode_costs(self.chip, mode).size
        across = [value for value in self.can[f"{layer.name}.scroll_x"][: 64 * size] if value % size == stretch.fine]
        down = [
            value
            for value in self.can[f"{layer.name}.scroll_y"][:32]
            if tall is None or self._same(layer, tall, stretch, own + value, fresh=fresh)
        ]
        if not across or not down:
            return False
        stage.registers |= {f"{layer.name}.scroll_x": across[0], f"{layer.name}.scroll_y": down[0]}
        return True

    def _same(self, layer: Layer, tall: int, stretch: Stretch, row: int, *, fresh: bool) -> bool:
        """Whether cells are kept just where they are wanted to be; ``row``: the line of the map or text that is shown."""
        return not self._keeps(layer) or stretch.kept == (not fresh and row % tall > 0)

    def _keeps(self, layer: Layer) -> bool:
        return self.server.time.clients[f"{layer.name}.cells"].keep

    # Sprites

    def _crowd(self, line: Line) -> list[int] | None:
        """Sizes of sprites that make the wanted accesses; None where no choice of them does."""
        sprites = self.chip.sprites
        most, _, scan = most_accesses(self.chip)
        if sprites is None or not most or (not line.kind.picture and not self.server.sprites_ahead):
            return []
        beyond = line.sprites >= len(self.server.room(line.shape))  # all that ask for more are served the same
        if not line.sprites and not beyond and (0 in self.can["sprites.enable"] or self._nobody(line)):
            return []
        costs = sprite_costs(self.chip)
        kinds = {dots: (size, costs[size]) for size, (dots, _) in enumerate(sprites.sizes)}
        number = min(sprites.count, sprites.per_line or sprites.count)
        limit = sprites.dots_per_line if sprites.dots_per_line is not None else 64 * number
        each = [(dots, cost, size) for dots, (size, cost) in kinds.items()]
        for wanted in range(most if beyond else line.sprites, line.sprites - 1, -1):
            found = _choose(wanted - scan, number, limit, each)
            if found is not None:
                return found
        return None


def _choose(wanted: int, number: int, dots: int, each: Sequence[tuple[int, int, int]]) -> list[int] | None:
    """At most ``number`` sizes of at most ``dots`` dots that cost just ``wanted``, from (dots, cost, size) of each."""
    if wanted == 0:
        return []
    if wanted < 0 or not each:
        return None
    (wide, cost, size), rest = each[0], each[1:]
    for count in range(min(number, dots // wide, wanted // cost), -1, -1):
        found = _choose(wanted - count * cost, number - count, dots - count * wide, rest)
        if found is not None:
            return [size] * count + found
    return None

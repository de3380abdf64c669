"""Displays that a chip may be meant for: their published timing, and what of a frame one would not take.

Law: every number stands beside its source; what no standard says is marked ``common practice``, what was not read anew
``from memory``. A frame is compared with a display and never changed. Knows the frame's table and its rates alone.

All three are driven line after line, without interlace. A chip shows each of its lines once: where hardware shows every line
twice, the frame's table has both.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from fractions import Fraction

from ...door.given import instance
from ..tables.basics import FrameTable, size_name
from .rates import frame_rate, line_rate


@dataclass(frozen=True)
class Display:
    """What a kind of display takes. Parts of a line are fractions of its whole time, from 0 to 1.

    ``line_rate`` in Hz, and the part of it by which a chip's may be off (``tolerance``); ``lines`` of a frame that are allowed,
    the usual one first; ``dots`` of a whole line that are published, fewest first; ``active``, the part of a published line that
    is sent; ``picture``, the part of any other line in which a picture is seen; ``bordered``, the most that picture and border
    may take; ``blank_lines``, the fewest lines without picture, and ``bordered_blank_lines``, without picture and border. The
    texts name sources.
    """

    name: str
    about: str
    line_rate: Fraction
    line_rate_source: str
    tolerance: Fraction
    tolerance_source: str
    lines: tuple[int, ...]
    lines_source: str
    dots: tuple[int, ...]
    dots_source: str
    active: Fraction
    active_source: str
    picture: Fraction
    picture_source: str
    bordered: Fraction
    bordered_source: str
    blank_lines: int
    bordered_blank_lines: int

    @property
    def rates(self) -> tuple[Fraction, Fraction]:
        """The slowest and the fastest line rate that it takes, Hz, both allowed."""
        return self.line_rate * (1 - self.tolerance), self.line_rate * (1 + self.tolerance)

    @property
    def height(self) -> int:
        """The most lines of picture that the usual frame has room for."""
        return self.lines[0] - self.blank_lines

    def room(self, dots: int) -> tuple[int, str]:
        """How many dots of picture a whole line of ``dots`` has room for, and who says so."""
        if dots in self.dots:
            return int(dots * self.active), self.active_source
        return int(dots * self.picture), self.picture_source

    def distance(self, frame: FrameTable) -> Fraction:
        """How far the rates of ``frame`` are from it: 0 is a chip exactly as published."""
        lines = min(abs(Fraction(frame.lines_per_frame, allowed) - 1) for allowed in self.lines)
        return abs(line_rate(frame) / self.line_rate - 1) + lines


def _without(line: Fraction, blanking: str) -> Fraction:
    """The part of a line of ``line`` us that is left by ``blanking`` us."""
    return (line - Fraction(blanking)) / line


_TUBE = Fraction(1, 100)  # common practice: a cautious share of what analogue displays follow
_LINE_525 = Fraction(572, 9)  # us: 455/2 cycles of 315/88 MHz, 47 CFR 73.682(a)(5) and (6)
_LINE_625 = Fraction(64)  # us: ITU-R BT.1700, 15,625 Hz
_TUBE_TOLERANCE = "within 1 % is common practice for analogue displays"

DISPLAYS: Mapping[str, Display] = {
    display.name: display
    for display in (
        Display(
            name="525 lines",
            about="television sets and monitors of the 525-line system; each frame is one field, without interlace",
            # 47 CFR 73.682(a)(6): the line rate is 2/455 of the subcarrier, (a)(5): 315/88 MHz; 15,734.264 Hz +- 0.044 Hz.
            # The 0.044 Hz is the standard's own tolerance, for broadcasters; the 1 % is common practice.
            line_rate=Fraction(2, 455) * Fraction(315_000_000, 88),
            line_rate_source="47 CFR 73.682, ITU-R BT.1700",
            tolerance=_TUBE,
            tolerance_source=f"{_TUBE_TOLERANCE}; 47 CFR 73.682 holds broadcasters to 0.044 Hz",
            # CTA-861 VIC 8 and 9: 262 lines, 4 + 3 + 15 of them blank, 60.054 Hz; "262 or 263" from memory.
            lines=(262, 263),
            lines_source="CTA-861 VIC 8 and 9",
            # ITU-R BT.601: 858 samples at 13.5 MHz, 429 at 6.75 MHz; CTA-861 VIC 8: 1716 at 27 MHz.
            dots=(429, 858, 1716),
            dots_source="ITU-R BT.601, CTA-861 VIC 8",
            # CTA-861 VIC 8 and ITU-R BT.601 send 720 of 858 dots, although on a tube the outermost fall into blanking.
            active=Fraction(720, 858),
            active_source="720 of 858: ITU-R BT.601, CTA-861 VIC 8",
            # 10.90 us of blanking: Y. C. Kuan's table of composite signals (2002); SMPTE ST 170's +- 0.2 us from memory.
            picture=_without(_LINE_525, "10.7"),
            picture_source="blanking of 10.9 us less 0.2 us: SMPTE ST 170",
            bordered=Fraction(720, 858),
            bordered_source="720 of 858: ITU-R BT.601, CTA-861 VIC 8",
            blank_lines=22,
            bordered_blank_lines=22,
        ),
        Display(
            name="625 lines",
            about="television sets and monitors of the 625-line system; each frame is one field, without interlace",
            # ITU-R BT.1700: 625 lines, 25 frames a second. The standard's own tolerance for broadcasters (0.02 % and less)
            # is from memory; the 1 % is common practice.
            line_rate=Fraction(15_625),
            line_rate_source="ITU-R BT.1700",
            tolerance=_TUBE,
            tolerance_source=_TUBE_TOLERANCE,
            # CTA-861 VIC 23 and 24: 312 lines, 2 + 3 + 19 of them blank, 50.080 Hz; 313 and 314 from memory.
            lines=(312, 313, 314),
            lines_source="CTA-861 VIC 23 and 24",
            # ITU-R BT.601: 864 samples at 13.5 MHz, 432 at 6.75 MHz; CTA-861 VIC 23: 1728 at 27 MHz.
            dots=(432, 864, 1728),
            dots_source="ITU-R BT.601, CTA-861 VIC 23",
            # CTA-861 VIC 23 and ITU-R BT.601 send 720 of 864 dots, although on a tube the outermost fall into blanking.
            active=Fraction(720, 864),
            active_source="720 of 864: ITU-R BT.601, CTA-861 VIC 23",
            # 12.05 us of blanking: Y. C. Kuan's table of composite signals (2002); ITU-R BT.1700's +- 0.3 us from memory.
            picture=_without(_LINE_625, "11.75"),
            picture_source="blanking of 12.05 us less 0.3 us: ITU-R BT.1700",
            bordered=Fraction(720, 864),
            bordered_source="720 of 864: ITU-R BT.601, CTA-861 VIC 23",
            blank_lines=24,
            bordered_blank_lines=24,
        ),
        Display(
            name="640x480",
            about="computer monitors that show 640 x 480 dots sixty times a second",
            # VESA DMT 0x04 and CTA-861 VIC 1: 25.175 MHz / 800 dots; the 60.000 Hz variant, 25.2 MHz, is x 1.001.
            line_rate=Fraction(25_175_000, 800),
            line_rate_source="VESA DMT 0x04, CTA-861 VIC 1",
            tolerance=Fraction(1, 200),  # the standard's own, from memory
            tolerance_source="within 0.5 % is CTA-861's tolerance of the dot clock",
            lines=(525,),  # VESA DMT 0x04 and CTA-861 VIC 1: 59.940 Hz
            lines_source="VESA DMT 0x04, CTA-861 VIC 1",
            dots=(400, 800),  # 800 is published; 400, each shown for two of them, is common practice
            dots_source="VESA DMT 0x04, CTA-861 VIC 1, or half of their 800",
            # CTA-861 VIC 1: 16 + 96 + 48 of 800 dots and 10 + 2 + 33 of 525 lines are blank.
            active=Fraction(640, 800),
            active_source="640 of 800: VESA DMT 0x04, CTA-861 VIC 1",
            picture=Fraction(640, 800),
            picture_source="640 of 800: VESA DMT 0x04, CTA-861 VIC 1",
            # VESA DMT 0x04 has 8 dots and 8 lines of border on each side of the picture.
            bordered=Fraction(656, 800),
            bordered_source="with 8 dots at each side, 656 of 800: VESA DMT 0x04",
            blank_lines=45,
            bordered_blank_lines=29,
        ),
    )
}
"""Displays by the name that a chip's ``frame.display`` gives them."""

_HARM = "A tube display can whine or be damaged at a line rate that it was not built for: its manual and the standard decide"


def display_warnings(frame: FrameTable, size: int | None = None) -> tuple[str, ...]:
    """What the display that ``frame`` is meant for would not take, each with the standard; empty where it takes all.

    A frame that names no display is compared with the one whose rates are nearest (the first of equals). One that says
    ``other`` is not checked. Where the picture has several sizes, what does not hold for all of them is told with the size;
    with a ``size``, its number, what holds for that one alone. The border is that of the file around each of them.
    """
    if instance("frame", frame, FrameTable).display == "other":
        return ()
    if frame.display:
        return _at_sizes(frame, size, DISPLAYS[frame.display], f'displays of "{frame.display}"')
    display = min(DISPLAYS.values(), key=lambda known: known.distance(frame))
    found = _at_sizes(frame, size, display, f'displays of "{display.name}", the nearest of those known,')
    return (*found, 'a chip for any other display says so with display = "other"') if found else ()


def _at_sizes(frame: FrameTable, size: int | None, display: Display, they: str) -> tuple[str, ...]:
    """What is wrong at every size of the picture, once; then what is wrong at some sizes, each with its size."""
    if frame.number is not None:
        return tuple(_warnings(frame, display, they))
    alone = [frame.model_copy(update={"width": width, "height": height}) for width, height in frame.sizes]
    found = [list(_warnings(one, display, they)) for one in alone]
    if size is not None:
        return tuple(found[size])
    always = [told for told in found[0] if all(told in others for others in found[1:])]
    sometimes = (
        f"at {size_name(size)}: {told}"
        for size, each in zip(frame.sizes, found, strict=True)
        for told in each
        if told not in always
    )
    return (*always, *sometimes)


def _warnings(frame: FrameTable, display: Display, they: str) -> Iterator[str]:
    """What ``display``, called ``they`` in a sentence, would not take of ``frame``."""
    yield from _of_rates(frame, display, they)
    yield from _of_width(frame, display, they)
    yield from _of_height(frame, display, they)


def _of_rates(frame: FrameTable, display: Display, they: str) -> Iterator[str]:
    rate, (slowest, fastest) = line_rate(frame), display.rates
    if not slowest <= rate <= fastest:
        yield (
            f"{float(rate):.3f} lines a second; {they} take {float(slowest):.3f} to {float(fastest):.3f} "
            f"({float(display.line_rate):.3f}: {display.line_rate_source}; {display.tolerance_source}). {_HARM}"
        )
    if frame.lines_per_frame not in display.lines:
        *fewer, last = map(str, display.lines)
        allowed = f"{', '.join(fewer)} or {last}" if fewer else last
        yield (
            f"{frame.lines_per_frame} lines a frame, {float(frame_rate(frame)):.3f} frames a second; {they} take "
            f"{allowed} lines without interlace ({display.lines_source})"
        )


def _of_width(frame: FrameTable, display: Display, they: str) -> Iterator[str]:
    """Dots that the display would not show: the picture's or, where the picture has room, those of picture and border."""
    whole = frame.dots_per_line
    bordered = frame.width + frame.border.left + frame.border.right
    for dots, what, room, source in (
        (frame.width, "picture", *display.room(whole)),
        (bordered, "picture and border", int(whole * display.bordered), display.bordered_source),
    ):
        if dots > room:
            yield (
                f"{dots} dots of {what} a line; {they} have room for {room} of {whole} ({source}), "
                f"so that {dots - room} fall into blanking"
            )
            return


def _of_height(frame: FrameTable, display: Display, they: str) -> Iterator[str]:
    """Too few lines of blanking: beside the picture or, where these are enough, beside picture and border."""
    bordered = frame.height + frame.border.top + frame.border.bottom
    for lines, what, least in (
        (frame.height, "picture", display.blank_lines),
        (bordered, "picture and border", display.bordered_blank_lines),
    ):
        blank = frame.lines_per_frame - lines
        if blank < least:
            yield f"{blank} lines without {what}; {they} need at least {least} ({display.lines_source})"
            return

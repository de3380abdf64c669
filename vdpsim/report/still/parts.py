"""The parts of a page that are about all its frames, as HTML by their places; and the strip of cards that its verdict is.

Law: each part is made where its own module says how; here they are only put together. The strip says what stands in the cards,
each a link to what it speaks of. A colour never stands alone: beside it are a sign and a word, and each verdict has an edge of
its own.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

import numpy.typing as npt

from ...chip.line.clients import slot_clients
from ...output.flashes import Flashes
from ...output.roles import ROLES, role_of
from ...scene import Scene
from ..pictures import pattern_sheets
from ..tables import budget_tables, scene_budget
from ..told.cards import Card, cards
from ..told.totals import Place, Totals
from . import budget as made
from .markup import Markup, escaped, joined, tag
from .memory import memory

CAUTION = (
    "Flashing pictures can cause seizures. Shown one after the other at the chip's rate, these frames have {} (WCAG 2.3.1). "
    "They are not played here."
)


def strip(found: Iterable[Card]) -> Markup:
    """The cards as the items of a list."""
    return joined(tag("li", _card(one), class_=f"card {one.tone}") for one in found)


def _card(card: Card) -> Markup:
    sign = tag("span", card.sign, class_="sign", aria_hidden="true")
    to = card.to
    where = f"#frame={to.frame}&line={to.line}&dot={to.dot}" if isinstance(to, Place) else f"#{to}"
    return tag("a", sign, " ", tag("strong", card.word), " ", tag("span", card.text, class_="why"), href=where)


def still_parts(
    scene: Scene, totals: Totals, touched: npt.NDArray[Any] | None, flashes: Flashes | None
) -> dict[str, Markup]:
    """The parts: verdict and caution, who is what in the chart, memory, patterns, what shows nothing, the budget.

    ``touched`` bool (memory's size,): bytes that the frames have fetched, None where nobody knows. ``flashes`` None: one frame.
    """
    chip, found = scene.chip, scene_budget(scene, totals.seen)
    timed = chip.time is not None
    used = {role_of(name) for name in slot_clients(chip) if timed or name not in ("refresh", "cpu")}
    return {
        "verdict": strip(cards(found, totals)),
        "caution": escaped("" if flashes is None or flashes.passes else CAUTION.format(flashes.told())),
        "client-key": made.key([role for role in ROLES if role in used], ROLES),
        "memory": memory(chip, found.memory, touched),
        "patterns": made.patterns(pattern_sheets(scene)) or tag("p", "The scene puts no patterns into memory."),
        "transparent": made.definitions(chip.transparency.items()),
        "budget": made.budget(budget_tables(found)),
    }

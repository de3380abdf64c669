"""The verdict strip: cards in a row, each a link to what it speaks of.

Law: says what stands in the cards. A colour never stands alone: beside it are a sign and a word, and each verdict has an edge of
its own.
"""

from __future__ import annotations

from collections.abc import Iterable

from ..told.cards import Card
from ..told.totals import Place
from .markup import Markup, joined, tag


def strip(found: Iterable[Card]) -> Markup:
    """The cards as the items of a list."""
    return joined(tag("li", _card(one), class_=f"card {one.tone}") for one in found)


def _card(card: Card) -> Markup:
    sign = tag("span", card.sign, class_="sign", aria_hidden="true")
    to = card.to
    where = f"#frame={to.frame}&line={to.line}&dot={to.dot}" if isinstance(to, Place) else f"#{to}"
    return tag("a", sign, " ", tag("strong", card.word), " ", tag("span", card.text, class_="why"), href=where)

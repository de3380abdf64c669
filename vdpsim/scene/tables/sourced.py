"""What tables share whose matter comes from one of several keys: exactly one of them, and what goes with it.

Law: what a table says of its own keys is told here, all of it at once; what the keys mean is said where the table stands.
"""

from typing import ClassVar, Self

from pydantic import model_validator

from ...chip.model import Table
from ...chip.tables.table import passed

Keys = frozenset[str]
"""Keys of a table, as the file writes them."""


class Sourced(Table):
    """A table whose matter comes from exactly one of several keys; ``GOES_WITH`` lists what only goes with one of them."""

    SOURCES: ClassVar[tuple[str, ...]] = ()
    LEAST: ClassVar[int] = 1
    GOES_WITH: ClassVar[dict[str, tuple[str, ...]]] = {}

    @property
    def given(self) -> Keys:
        """The keys that the file has, as the file writes them."""
        fields = type(self).model_fields
        return frozenset(fields[name].alias or name for name in self.model_fields_set)

    @classmethod
    def wrong(cls, given: Keys) -> list[str]:
        """What does not agree in a table that has the keys ``given``, whatever stands at them: a sentence each."""
        found = [name for name in cls.SOURCES if name in given]
        told = []
        if not cls.LEAST <= len(found) <= 1:
            told.append(f"must have exactly one of {', '.join(cls.SOURCES)}, got {', '.join(found) or 'none'}")
        # what goes with a source is told once there is one
        unknown = cls.SOURCES if len(found) < cls.LEAST else ()
        return told + [
            f"{name} only goes with {' or '.join(sources)}"
            for name, sources in cls.GOES_WITH.items()
            if name in given and not given.intersection(sources) and not set(sources).intersection(unknown)
        ]

    @model_validator(mode="after")
    def _agrees(self) -> Self:
        return passed(self, self.wrong(self.given))


class Filled(Sourced):
    """A table that lays cells: ``fill``, then one of its sources or none; ``text`` goes with a ``key``."""

    LEAST: ClassVar[int] = 0

    @classmethod
    def wrong(cls, given: Keys) -> list[str]:
        """What does not agree in a table that has the keys ``given``."""
        told = super().wrong(given)
        if not given.intersection(("fill", *cls.SOURCES)):
            told.append(f"must have fill or one of {', '.join(cls.SOURCES)}, got none")
        if "text" in given and "key" not in given:
            told.append("text needs a key that gives a cell for each character")
        return told

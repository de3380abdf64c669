"""What tables share whose matter comes from one of several keys: exactly one of them, and what goes with it.

Law: what a table says of its own keys is told here, all of it at once; what the keys mean is said where the table stands.
"""

from typing import ClassVar, Self

from pydantic import model_validator

from ...chip.model import Table


class Sourced(Table):
    """A table whose matter comes from exactly one of several keys; ``GOES_WITH`` lists what only goes with one of them."""

    SOURCES: ClassVar[tuple[str, ...]] = ()
    LEAST: ClassVar[int] = 1
    GOES_WITH: ClassVar[dict[str, tuple[str, ...]]] = {}

    @property
    def given(self) -> set[str]:
        """The keys that the file has, as the file writes them."""
        fields = type(self).model_fields
        return {fields[name].alias or name for name in self.model_fields_set}

    @model_validator(mode="after")
    def _one_source(self) -> Self:
        given = self.given
        found = [name for name in self.SOURCES if name in given]
        if not self.LEAST <= len(found) <= 1:
            raise ValueError(f"must have exactly one of {', '.join(self.SOURCES)}, got {', '.join(found) or 'none'}")
        wrong = [
            f"{name} only goes with {' or '.join(sources)}"
            for name, sources in self.GOES_WITH.items()
            if name in given and not given.intersection(sources)
        ]
        if wrong:
            raise ValueError("; ".join(wrong))
        return self

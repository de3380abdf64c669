"""What ``verify`` answers: what was found, which tells itself in words, as data and as a picture.

Law: works nothing out; each way to tell is loaded when it is first asked for.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from .found import Found

if TYPE_CHECKING:
    from PIL.Image import Image


class Verified(Found):
    """A capture beside what was expected; its fields are told with ``Found``, of which it is one."""

    def text(self) -> str:
        """All of it in words, several lines."""
        from .told.words import told  # noqa: PLC0415 - reads the folder again, which a program that asks ``same`` need not

        return told(self)

    def picture(self, scale: int = 1) -> Image:
        """The first frame with dots that differ: expected, came, and where they differ; see ``picture_of``."""
        from .told.picture import picture_of  # noqa: PLC0415

        return picture_of(self, scale)

    def data(self) -> dict[str, Any]:
        """All of it as plain data."""
        from .told.data import data_of  # noqa: PLC0415

        return data_of(self)

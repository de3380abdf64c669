"""Writing files whole or not at all.

Law: a file appears under its name only when all of it is on disk: bytes go to a temporary file beside the target, which
is then renamed. Several files of one run appear together or, where anything fails before, not at all. Knows no chip, no
scene and no picture.
"""

from __future__ import annotations

import os
from contextlib import suppress
from pathlib import Path
from types import TracebackType
from typing import Self


class Outputs:
    """Files that a run writes, put in place at its end.

    Used as a context: ``add`` writes each file's bytes beside its target; where the block ends well, all are renamed to
    their names, in order; where it ends by an exception, the temporary files and the folders made for them are removed.
    Raises OSError as the system does.
    """

    def __init__(self) -> None:
        self._staged: dict[Path, Path] = {}
        self._folders: list[Path] = []

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        try:
            if kind is None:
                for target, temporary in list(self._staged.items()):
                    os.replace(temporary, target)  # noqa: PTH105 - says in its name that an old file gives way
                    del self._staged[target]
                self._folders.clear()
        finally:
            self._clear()

    def add(self, path: str | Path, data: bytes) -> None:
        """Write ``data`` to be the file ``path``; folders on the way are made. A second file of that name replaces the first."""
        target = Path(os.path.realpath(path))
        if target.is_dir():
            raise IsADirectoryError(21, "Is a directory", str(path))
        self._make_folder(target.parent)
        temporary = target.with_name(f".{target.name}.{os.getpid()}.tmp")
        self._staged[target] = temporary
        with open(temporary, "wb") as file:
            file.write(data)

    def _make_folder(self, folder: Path) -> None:
        missing = [place for place in (folder, *folder.parents) if not place.exists()]
        for place in reversed(missing):
            place.mkdir()
            self._folders.append(place)

    def _clear(self) -> None:
        for temporary in self._staged.values():
            temporary.unlink(missing_ok=True)
        self._staged.clear()
        for folder in reversed(self._folders):
            with suppress(OSError):  # another program has put something there in the meantime: leave it
                folder.rmdir()
        self._folders.clear()


def write(path: str | Path, data: bytes) -> None:
    """Write the one file ``path`` whole or not at all. Raises OSError as the system does."""
    with Outputs() as outputs:
        outputs.add(path, data)

"""How a check fails: at once, or together with all else that fails in a block.

Law: a check says what it found and never how that is told; here it is told, once. What a check is wrongly asked, such as a
client that the chip has not, is no finding: it is raised at once as ValueError or TypeError, in a block too.
"""

from __future__ import annotations

import sys
import warnings
from collections.abc import Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from dataclasses import dataclass, field
from pathlib import Path

from .finding import Finding
from .told.left import leave
from .using import Using, now


class CheckFailedError(AssertionError):
    """Something does not hold. ``findings``: all that does not; ``left``: the files with pictures and a page of it, as paths."""

    def __init__(self, findings: tuple[Finding, ...]) -> None:
        self.findings: tuple[Finding, ...] = findings
        self.left: tuple[Path, ...]
        text = "\n".join(one.text() for one in findings)
        self.left, lines = leave(text, findings)
        super().__init__("\n".join([text, *lines]))


@dataclass
class Gathered:
    """What has failed so far in a block of ``soft``."""

    findings: list[Finding] = field(default_factory=list)


_SOFT: ContextVar[Gathered | None] = ContextVar("vdpsim_testing_soft", default=None)


def fail(finding: Finding) -> None:
    """Raise CheckFailedError, or note it where a block gathers what fails."""
    __tracebackhide__ = True
    gathered = _SOFT.get()
    if gathered is None:
        raise CheckFailedError((finding,))
    gathered.findings.append(finding)


def softly() -> bool:
    """Whether a block gathers what fails."""
    return _SOFT.get() is not None


@contextmanager
def soft() -> Iterator[Gathered]:
    """A block in which checks that fail do not end the test: at its end all of them are raised together.

    Where the block ends by another error, that one is raised, with a note of what had failed. A block within a block hands on
    to the outer one.

    >>> with soft():
    ...     assert_sprites(frame).on_every_line().at_most(12)
    ...     assert_sprite(frame, "harrier").never_dropped()
    """
    __tracebackhide__ = True
    gathered = Gathered()
    outer = _SOFT.get()
    token = _SOFT.set(gathered)
    try:
        yield gathered
    except BaseException as error:
        for one in gathered.findings:
            error.add_note(f"before this had failed: {one.text()}")
        raise
    finally:
        _SOFT.reset(token)
    if outer is not None:
        outer.findings += gathered.findings
    elif gathered.findings:
        raise CheckFailedError(tuple(gathered.findings))


class UnfinishedCheckWarning(UserWarning):
    """A check was begun and asked nothing, so that it held nothing."""


class Begun:
    """The beginning of a check, such as ``assert_sprites(frame)``: it holds something only once it is asked something."""

    _begun: tuple[str, Using] | None = None

    def begin(self, words: str) -> None:
        """Say that a check has begun, told in ``words``."""
        self._begun = words, now()

    def asked(self) -> None:
        """Say that it was asked something."""
        self._begun = None

    def __del__(self) -> None:
        if self._begun is None or sys.is_finalizing():
            return
        words, using = self._begun
        using.unfinished.append(words)
        if not using.waits:  # else the test that it was begun in fails for it
            warnings.warn(f"{words} was begun and asked nothing", UnfinishedCheckWarning, stacklevel=2)

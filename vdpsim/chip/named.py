"""Values by name: which number a name stands for, and what a number is called.

Law: names are listed in the order of the numbers that they stand for, from 0. Where a value has a name, its number may stand
too, so that a file that says names serves chips whose numbers differ. Knows no chip and no control.
"""

from __future__ import annotations

from collections.abc import Sequence

NO_NUMBER = -1
"""What a name that is not known stands for: a number that nothing takes."""


def number_of(names: Sequence[str], value: int | str) -> int:
    """The number that ``value`` stands for; NO_NUMBER for a text that is none of ``names``."""
    if not isinstance(value, str):
        return value
    return names.index(value) if value in names else NO_NUMBER


def name_of(names: Sequence[str], number: int) -> int | str:
    """What ``number`` is called; the number itself where it has no name."""
    return names[number] if 0 <= number < len(names) else number


def told(names: Sequence[str], number: int) -> str:
    """A number in words: ``1 (picture)``, or ``1`` where it has no name."""
    name = name_of(names, number)
    return f"{number} ({name})" if isinstance(name, str) else str(number)


def choices(names: Sequence[str]) -> str:
    """The names as they stand behind a range of numbers: `` (0 grid, 1 picture)``, or nothing where there are none."""
    return f" ({', '.join(f'{number} {name}' for number, name in enumerate(names))})" if names else ""

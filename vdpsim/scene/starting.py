"""What a scene's registers hold at its beginning, as the file sets them.

Law: a field is set once, by one of its names, or by whole registers that each hold a part of it; a second value is a mistake.
What is set is in force from the beginning, whatever an effect or a half write says. Addresses that the file leaves out are
for ``layout.py``.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from ..chip.controls import number_of
from ..chip.registers import Register, RegisterField, own_names, settable, unfit
from ..door.shown import value as shown
from .findings import Findings, none_of


@dataclass(frozen=True)
class Starting:
    """By control the values that the file sets; by a register's number its bits that no field names."""

    values: dict[str, int] = field(default_factory=dict)
    held: dict[int, tuple[int, int]] = field(default_factory=dict)


def starting(findings: Findings, given: Mapping[str, int | str]) -> Starting:
    """What ``given``, the file's registers, sets; mistakes become problems."""
    found, setter = Starting(), _Setter(findings)
    known = settable(findings.chip)
    for name, value in given.items():
        if name not in known:
            told = none_of(name, own_names(findings.chip), f"a register of {findings.chip.name}")
            findings.tell(("registers", name), told)
            continue
        one = known[name]
        reason, number = unfit(one, value), number_of(one.names, value)
        if reason:
            findings.tell(("registers", name), reason)
        elif isinstance(one, Register):
            for of, part in one.holds:
                setter.set(name, of, part.of.mask, part.of.put(part.bits.get(number)))
            if number & one.unnamed:
                found.held[one.number] = 0, number & one.unnamed
        else:
            setter.set(name, one, -1, number // one.step)
    for each, raw in setter.raw.values():
        found.values.update(dict.fromkeys(each.controls, each.value(raw)))
    return found


class _Setter:
    """Fields' raw numbers as they are set, and by which name."""

    def __init__(self, findings: Findings) -> None:
        self.findings = findings
        self.raw: dict[str, tuple[RegisterField, int]] = {}
        self.set_by: dict[str, list[tuple[int, str]]] = {}

    def set(self, name: str, of: RegisterField, mask: int, raw: int) -> None:
        """``name`` sets the bits ``mask`` of a field's raw number, where nothing has set one of them before."""
        before = self.set_by.setdefault(of.name, [])
        first = next((other for bits, other in before if bits & mask), None)
        if first is not None:
            told = f"sets {of.name}, which {shown(first)} sets already: a field is set once"
            self.findings.tell(("registers", name), told)
            return
        before.append((mask, name))
        _, rest = self.raw.get(of.name, (of, of.reset // of.step))
        self.raw[of.name] = of, rest & ~mask | raw

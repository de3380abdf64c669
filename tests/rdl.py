"""SystemRDL as another's compiler reads it: an address map elaborated, and its fields bit by bit."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any, NamedTuple

from real_parts import module

from vdpsim.chip.model import Chip
from vdpsim.handoff.registers import register_files


class Bit(NamedTuple):
    """A bit of the address space: of which field it is, and which of the field's own bits; what it is at reset."""

    field: Any
    name: str
    own: int
    reset: int | None

    @property
    def sets(self) -> bool:
        """Whether its field sets controls."""
        return self.field.get_property("sets", default=None) is not None


def told(chip: Chip, folder: Path) -> dict[str, bytes]:
    """The files of a chip's registers, put into ``folder``."""
    found = dict(register_files(chip))
    for path, data in found.items():
        (folder / path).parent.mkdir(exist_ok=True, parents=True)
        (folder / path).write_bytes(data)
    return found


def elaborated(path: Path) -> Any:
    """The last component of a file, its top; a warning is a failure."""
    return compiled(path)(None)


def compiled(path: Path) -> Callable[[str | None], Any]:
    """A file that is parsed: a function that elaborates a component by its name, None for the last; a warning is a failure."""
    compiler = module("systemrdl", "systemrdl-compiler")
    printer: Any = module("systemrdl.messages", "systemrdl-compiler").MessagePrinter

    class Strict(printer):  # type: ignore[misc] # of a library without which this module loads too
        def print_message(self, severity: Any, text: str, src_ref: Any) -> None:
            raise AssertionError(f"{severity}: {text} {src_ref}")

    every = module("systemrdl.warnings", "systemrdl-compiler")
    # an odd address is for a chip's maker to choose, and what a port's data holds at reset nobody knows
    flags = every.ALL & ~(every.STRICT_SELF_ALIGN | every.MISSING_RESET)
    rdl = compiler.RDLCompiler(message_printer=Strict(), warning_flags=flags)
    rdl.compile_file(str(path))
    return lambda top: rdl.elaborate(top_def_name=top).top


def registers_of(top: Any) -> Iterator[tuple[int, Any, Any]]:
    """Every entry of an address map: its address, its node, and each of its words."""
    for node in top.children():
        words = [node] if hasattr(node, "fields") else list(node.registers())
        for word in words:
            yield node.absolute_address, node, word


def bits_of(top: Any) -> dict[int, Bit]:
    """Every bit of an address map that belongs to a field, by eight times its byte's address and its place in the byte."""
    found: dict[int, Bit] = {}
    for _, _, word in registers_of(top):
        for field in word.fields():
            has = field.get_property("has_bits", default=None)
            low = int(has.split(":")[-1]) if has else 0
            reset = field.get_property("reset")
            for bit in range(field.width):
                at = 8 * word.absolute_address + field.low + bit
                assert at not in found, field
                value = None if reset is None else reset >> bit & 1
                found[at] = Bit(field, field.get_property("name"), low + bit, value)
    return found

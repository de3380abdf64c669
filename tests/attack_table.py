"""A sprite table while an attack's script is written: which records have to change so that just these sprites lie on a line.

Law: only y, size and enable are of use here, as only they say who lies where. Knows no line but the one it is asked for.
"""

from __future__ import annotations

from vdpsim.chip.model import Chip, SpritesTable


class Table:
    """A sprite table while a script is written: ``records`` as bytes."""

    def __init__(self, chip: Chip, address: int) -> None:
        assert chip.sprites is not None
        self.of: SpritesTable = chip.sprites
        self.address, self.order = address, chip.memory.byte_order
        layout = self.of.fields.layout
        self.y, self.enable, self.size = layout["y"], layout.get("enable"), layout.get("size")
        self.upward = (self.of.front == "first") == (self.of.dropped == "back")
        self.fields = [(0, 0, 0)] * self.of.count
        self.records = [self._record(number) for number in range(self.of.count)]

    def _record(self, number: int) -> bytes:
        y, size, enable = self.fields[number]
        word = (
            self.y.put(y) | (self.size.put(size) if self.size else 0) | (self.enable.put(enable) if self.enable else 0)
        )
        return int(word).to_bytes(self.of.record_bytes, self.order)

    def _lies(self, number: int, line: int) -> bool:
        y, size, enable = self.fields[number]
        row = line - y
        row = row & self.y.top if self.of.wrap_y else row
        return 0 <= row < self.of.sizes[size][1] and (enable == 1 or self.enable is None)

    def arrange(self, sizes: tuple[int, ...], line: int) -> list[int]:
        """Let just these sprites lie on ``line``, as far as the table can; the numbers of the records that changed."""
        changed = []
        for place in range(self.of.count):
            number = place if self.upward else self.of.count - 1 - place
            wanted = place < len(sizes)
            before = self.fields[number]
            if wanted and not (self._lies(number, line) and before[1] == sizes[place]):
                height = self.of.sizes[sizes[place]][1]
                top = self.y.top
                self.fields[number] = (line if line <= top else max(top, line - height + 1) & top, sizes[place], 1)
            elif not wanted and self._lies(number, line):
                for other in (0, self.y.top, line + 1 & self.y.top):
                    self.fields[number] = (other, before[1], 0)
                    if not self._lies(number, line):
                        break
            if self.fields[number] != before:
                self.records[number] = self._record(number)
                changed.append(number)
        return changed

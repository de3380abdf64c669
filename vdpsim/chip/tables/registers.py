"""A chip's registers as its file lists them: one for each control, or words at addresses with fields in them.

Law: what stands here is what the file says; which controls there are, which of them a register sets and where the next free
address is are worked out in ``chip/registers``. A bit layout of a field is that of its register's raw number.
"""

from collections.abc import Iterator
from typing import Annotated, Any, ClassVar, Literal, Self

from pydantic import BeforeValidator, ConfigDict, Discriminator, Field, Tag, model_validator

from ...door.shown import PLAIN
from ...door.shown import value as shown
from .table import Effect, Layout, Table, ValueRef, passed

Others = Literal["default", "wired"]
HalfWrite = Literal["counts", "waits"]
Access = Literal["read-back", "write-only"]

OTHERS = (
    "the controls that are not named here: default: each has a register of its own at the next free address; wired: each "
    "stays at its rest value"
)

Address = Annotated[int | None, Field(ge=0, le=0xFFFF)]
ControlName = Annotated[str, Field(min_length=1, max_length=100, pattern=PLAIN)]


class RegisterTable(Table):
    """A register that holds one control: how many bits, what it holds at reset, when a write takes effect, and where it is."""

    bits: int = Field(ge=1, le=32, description="how many bits it has; the low byte stands at the lowest address")
    reset: ValueRef | None = Field(
        default=None,
        description="what it sets at reset, a value or its name, up to what it holds; left out: the control's own rest value",
    )
    effect: Effect = Field(
        description="when a write counts: at the dot written, at dot 0 of the next line, or at the start of the next frame"
    )
    step: int | None = Field(
        default=None,
        ge=1,
        description="what one unit of it is worth, in control units; left out: the control's own step",
    )
    address: Address = Field(
        default=None,
        description="its number as the CPU sees it; left out: the one after the register before it",
    )


class RegisterFieldTable(Table):
    """Some bits of a register, which set one control or several alike."""

    bits: Layout = Field(description='which bits of the register they are, such as "4:2" or "7, 1:0"')
    of: Layout | None = Field(
        default=None,
        description="which bits of its raw number these are, where other registers hold the rest; left out: all, from bit 0",
    )
    sets: tuple[ControlName, ...] | None = Field(
        default=None,
        strict=False,  # what has gone through a validator in Python has lists where a file's own have tuples
        min_length=1,
        max_length=64,
        description="the controls that a field with a name of its own sets; left out: the control whose name it has",
    )
    step: int | None = Field(
        default=None,
        ge=1,
        description="what one unit of it is worth, in control units; left out: the control's own step, of several controls the "
        "least common multiple",
    )
    reset: ValueRef | None = Field(
        default=None,
        description="what it sets at reset, a value or its name, up to what it holds; left out: the control's own rest value",
    )
    effect: Effect | None = Field(default=None, description="from when a write counts; left out: as the register says")


def _in_short(given: Any) -> Any:
    """A field of which only the bits are told, as a table. Raises ValueError for what is neither."""
    if not isinstance(given, str | dict | RegisterFieldTable):
        raise ValueError(f'must be bits such as "4:2", or a table with bits, got {shown(given)}')  # noqa: TRY004 - a finding
    return {"bits": given} if isinstance(given, str) else given


RegisterField = Annotated[
    RegisterFieldTable, BeforeValidator(_in_short, json_schema_input_type=RegisterFieldTable | str)
]


class RegisterWordTable(Table):
    """A register as a word at an address, with fields in it; bits that no field names are kept and do nothing."""

    name: str = Field(min_length=1, max_length=40, pattern=PLAIN, description="what people call it, in one line")
    address: Address = Field(
        default=None,
        description="its lowest address as the CPU sees it; left out: the one after the register before it",
    )
    bits: int = Field(ge=1, le=32, description="how many bits it has; the low byte stands at the lowest address")
    effect: Effect = Field(default="at once", description="from when a write counts, for fields that do not say it")
    access: Access = Field(
        default="read-back",
        description="read-back: reads give what was last written, of a number above what its field takes the largest that it "
        "does; write-only: reads give 0",
    )
    half_write: HalfWrite | None = Field(
        default=None,
        description="when a write to a part of a field counts. counts: by itself; waits: it is held until the highest byte is "
        "written or, of a control that is split over registers, until a part is written whose register says counts; left out: "
        "counts, but a split control's registers must say it",
    )
    fields: dict[ControlName, RegisterField] = Field(
        default={}, description="its fields by the names of their controls, or by names of their own; left out: none"
    )

    @model_validator(mode="after")
    def _few(self) -> Self:
        most, count = self.bits, len(self.fields)
        return passed(
            self, [f"must have at most {most} fields, one for each of its bits, got {count}"] if count > most else []
        )


class OtherRegistersTable(Table):
    """The element of the list that speaks of all controls that no other element names."""

    others: Others = Field(description=OTHERS)


def _element(given: Any) -> str:
    """Which kind of element of the list it is."""
    others = "others" in given if isinstance(given, dict) else isinstance(given, OtherRegistersTable)
    return "[others]" if others else "[register]"


RegisterElement = Annotated[
    Annotated[RegisterWordTable, Tag("[register]")] | Annotated[OtherRegistersTable, Tag("[others]")],
    Discriminator(_element),
]


class RegistersTable(Table):
    """One register for each control that is named, by the control's name."""

    model_config: ClassVar[ConfigDict] = ConfigDict(extra="allow")
    __pydantic_extra__: dict[str, RegisterTable]  # what further keys hold

    others: Others | None = Field(default=None, description=f"{OTHERS}; left out: none may be missing")

    def listed(self) -> dict[str, RegisterTable]:
        """The registers by the names of their controls, in the file's order."""
        return dict(self.__pydantic_extra__ or {})


def _form(given: Any) -> str:
    """Which of the two forms it is; what is neither is told of as a table."""
    return "[[registers]]" if isinstance(given, list | tuple) else "[registers]"


Registers = Annotated[
    Annotated[RegistersTable, Tag("[registers]")]
    | Annotated[tuple[RegisterElement, ...], Field(min_length=1, max_length=1024), Tag("[[registers]]")],
    Discriminator(_form),
]
"""A table with a register for each control, or a list of registers with fields."""


def words(listed: Registers) -> Iterator[tuple[int, RegisterWordTable]]:
    """The registers of the list, each with its number in it."""
    for number, one in enumerate(listed if isinstance(listed, tuple) else ()):
        if isinstance(one, RegisterWordTable):
            yield number, one


def others(listed: Registers) -> Others | None:
    """What is said of the controls that are not named; of several words the first."""
    if isinstance(listed, RegistersTable):
        return listed.others
    return next((one.others for one in listed if isinstance(one, OtherRegistersTable)), None)

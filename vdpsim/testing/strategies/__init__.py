"""Random chips, scenes and machines for hypothesis, and a CPU that drives a chip through its ports.

Law: the door of the strategies. What they give is valid, is drawn choice by choice, so that a failure shrinks to something small,
and is noted as the chip file and the scene file that it is. They need hypothesis: ``pip install 'vdpsim[testing]'``.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

try:
    import hypothesis as _hypothesis  # noqa: F401 - whether it is there is told here, in words
except ModuleNotFoundError as error:
    if error.name != "hypothesis":
        raise
    raise ModuleNotFoundError(
        "vdpsim.testing.strategies needs hypothesis: pip install 'vdpsim[testing]'", name="hypothesis"
    ) from None

from ...door.lazy import names_of

if TYPE_CHECKING:
    from .driving import ChipDriver
    from .offered import chips, machines, port_traffic, scenes, sprites, timed_writes

__all__ = ["ChipDriver", "chips", "machines", "port_traffic", "scenes", "sprites", "timed_writes"]

_HOMES = {
    ".driving": ("ChipDriver",),
    ".offered": ("chips", "machines", "port_traffic", "scenes", "sprites", "timed_writes"),
}
__getattr__, __dir__ = names_of(__name__, _HOMES)

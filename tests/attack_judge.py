"""An odd chip, its budget and what an attack found: do they agree?

Law: all that is asked of a budget stands here, so that suites and ``tools/soak`` ask the same. The attack never sees it.
"""

from __future__ import annotations

from attack import Found, attack
from attack_script import Script, promises, replay
from witnesses import script_of

from vdpsim.budgets.budget import Budget, budget
from vdpsim.chip.model import Chip

DRAWN = 12
"""Scripts of an attack in the suites; the soak draws more."""


def seems_by_scenes(chip: Chip) -> bool:
    """Whether two frames full of odd lines miss nothing: a judge for ``odd_chips``."""
    return not attack(chip, 1, 2).misses


def seems_by_budget(chip: Chip) -> bool:
    """Whether the chip is said to fit, or at least not said not to: the other judge."""
    return verdict(chip) != "does not fit"


def verdict_of(found: Budget) -> str:
    """``fits``, ``does not fit`` or ``open``."""
    return found.verdict


def verdict(chip: Chip) -> str:
    """What the chip's budget says."""
    return verdict_of(budget(chip))


def told_slack(found: Budget) -> dict[str, int]:
    """The least slack of each client, over all lines, that the Budget ``found`` tells; of ``sprites`` where some are promised."""
    lines, sprites = found.lines, found.sprites
    assert lines is not None
    told = {client: lines.least(client) for client in lines.spare}
    return told | ({"sprites": sprites.slack} if sprites is not None and sprites.promised else {})


def witness_of(found: Budget) -> Script | None:
    """A script that misses something where the Budget ``found`` says that the chip does not fit; None where it brings none."""
    return None if found.witness is None else script_of(found.chip, found.witness)


def lacking(chip: Chip, told: str, found: Found, slack: dict[str, int] | None = None) -> list[str]:
    """What speaks against the budget, in words; nothing where it holds."""
    wrong = []
    if told == "fits" and found.misses:
        wrong.append(f"is said to fit, and misses {', '.join(map(str, found.misses[:3]))}")
    for client, least in (slack or {}).items():
        seen = found.slack.get(client)
        if seen is not None and least > seen and (client != "sprites" or promises(chip)):
            wrong.append(f"{client} is said to have {least} slots to spare, and has {seen}")
    return wrong


def witnessed(chip: Chip, script: Script | None) -> list[str]:
    """What speaks against a budget's witness, in words: it has to miss something when it is drawn."""
    return [] if script is None or replay(chip, script) else ["is said not to fit, and its witness misses nothing"]

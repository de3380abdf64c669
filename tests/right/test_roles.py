"""Who has which role, and can every reader tell the roles' colours apart, on light and on dark ground?"""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from colour_vision import closest, contrast
from refusal import refused

import vdpsim
from vdpsim.chip.line.clients import slot_clients
from vdpsim.images.paper import PAPER
from vdpsim.output.roles import IDLE, ROLES, role_colours, role_of
from vdpsim.report.page import part

CHIPS = Path(__file__).resolve().parents[2] / "scenes" / "chips"
GROUNDS = [
    PAPER,
    IDLE,
    *(bytes.fromhex(code) for code in re.findall(r"--(?:back|panel): #([0-9a-f]{6})", part("page.css"))),
]


@pytest.mark.parametrize(
    ("name", "role"),
    [
        ("near.cells", "cells"), ("far.colours", "cells"), ("far.tiles.map", "cells"), ("near.pattern", "patterns"),
        ("near.text.glyphs", "patterns"), ("far.bitmap", "bitmap"), ("far.night.plane_3", "bitmap"), ("sprites.table", "sprites"),
        ("sprites.plane_0", "sprites"), ("refresh", "refresh"), ("cpu", "CPU"),
        ("far.tiles.patterns, sprites.patterns", "patterns"),
    ],
)  # fmt: skip
def test_a_name_has_a_role(name, role):
    assert role_of(name) == role


def test_a_plane_may_be_of_patterns_and_other_names_have_no_role():
    assert role_of("far.night.plane_3", "patterns") == "patterns"
    with refused(KeyError, "gulls"):
        role_of("near.gulls")


def test_a_layer_may_be_called_anything():
    assert [role_of(f"{layer}.cells") for layer in ("cpu", "refresh", "bitmap", "plane_0")] == ["cells"] * 4


def test_every_client_of_the_shipped_chips_has_its_roles_colour():
    for path in CHIPS.glob("*.chip.toml"):
        names = slot_clients(vdpsim.load_chip(path))
        assert role_colours(names) == [ROLES[role_of(name)] for name in names]


def test_every_reader_can_tell_the_roles_apart():
    """A distance of about 2.3 in L*a*b* is just seen (common practice); more than eight times that is asked for."""
    assert closest(list(ROLES.values())) > 20
    assert closest([*list(ROLES.values())[1:], (88, 120, 56)]) < 20, "two greens: the test can fail"


@pytest.mark.parametrize("role", ROLES)
def test_a_role_stands_out_from_every_ground(role):
    """WCAG 2.2, 1.4.11: 3 to 1 for parts of graphics, on the page's grounds, light and dark, and on the bus map's."""
    assert len(GROUNDS) == 6
    for ground in GROUNDS:
        assert contrast(ROLES[role], tuple(ground)) >= 3

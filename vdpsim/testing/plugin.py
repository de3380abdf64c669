"""The pytest plugin: fixtures, the marker, ``--update-frames`` and where failures leave their pictures.

Law: idle unless used. It loads nothing but what pytest itself has, and the few names of ``using``, until a fixture or a check is
used. A frame is recorded once its test has passed, and never by two tests under one name.
Nothing here is an assert that pytest would have to write anew: PYTEST_DONT_REWRITE.
"""

from __future__ import annotations

import re
import tempfile
from collections.abc import Generator
from functools import partial
from hashlib import sha256
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest

from .using import Using, said

if TYPE_CHECKING:
    from .fixtures import GivenChip, GivenMachine, GivenScene

MARKER = "vdpsim(scene=..., chip=...): what the fixtures scene, chip and machine give where they are asked for nothing"
PROPERTY = "vdpsim recorded"
"""Under which name a test's report tells what was recorded, so that whoever runs the workers knows it too."""

USING = pytest.StashKey[Using]()
RECORDED = pytest.StashKey[dict[tuple[Path, str], tuple[str, object]]]()
"""What has been recorded in this run: by which test, and as what."""


def pytest_addoption(parser: pytest.Parser) -> None:
    """Add the plugin's options."""
    group = parser.getgroup("vdpsim")
    group.addoption(
        "--update-frames", action="store_true", help="record the frames of tests that pass, rather than compare them"
    )
    group.addoption(
        "--frame-failures",
        metavar="DIR",
        help="leave pictures and pages of what fails in DIR, not in pytest's own folder",
    )


def pytest_configure(config: pytest.Config) -> None:
    """Make the marker known."""
    config.addinivalue_line("markers", MARKER)
    config.stash[RECORDED] = {}


@pytest.hookimpl(wrapper=True)
def pytest_runtest_protocol(item: pytest.Item) -> Generator[None, object, object]:
    """Say for this test where its recorded frames lie, and where it leaves what fails."""
    with said(using_of(item)) as using:
        item.stash[USING] = using
        return (yield)


@pytest.hookimpl(tryfirst=True)
def pytest_runtest_setup(item: pytest.Item) -> None:
    """Forget what an earlier try of the same test has left."""
    if USING in item.stash:
        item.stash[USING].wanted.clear()
        item.stash[USING].unfinished.clear()


@pytest.hookimpl(wrapper=True)
def pytest_runtest_call(item: pytest.Item) -> Generator[None, object, object]:
    """Once a test has passed: fail it where a check of it asked nothing, and record what it wants recorded."""
    __tracebackhide__ = True
    result = yield
    using = item.stash.get(USING, None) or Using()
    if using.unfinished:
        pytest.fail(f"begun and asked nothing: {', '.join(using.unfinished)}", pytrace=False)
    for wanted in using.wanted:
        _record(item, wanted)
    return result


def using_of(item: pytest.Item) -> Using:
    """What is said for one test."""
    config = item.config
    return Using(
        frames=item.path.parent / "frames",
        failures=partial(_failures, config, item.nodeid),
        update=bool(config.getoption("--update-frames")),
        waits=True,
        hint="with --update-frames",
    )


def _failures(config: pytest.Config, test: str) -> Path:
    """The folder for what fails in one test: no other test, and no other worker, has it."""
    name = re.sub(r"[^A-Za-z0-9]+", "-", test.rpartition("/")[2]).strip("-")[:60]
    given = config.getoption("--frame-failures")
    if given:
        base = Path(config.invocation_params.dir, given)
    else:
        factory = getattr(config, "_tmp_path_factory", None)
        base = Path(factory.getbasetemp() if factory else tempfile.mkdtemp()) / "vdpsim-failures"
    return base / f"{name}-{sha256(test.encode()).hexdigest()[:8]}"


def _record(item: pytest.Item, wanted: Any) -> None:
    """Record a frame. Fails the test where another has recorded something else under that name."""
    __tracebackhide__ = True
    from .recorded import parts, store  # noqa: PLC0415 - see the law

    made, place = parts.files(wanted.frame), (wanted.folder.resolve(), wanted.name)
    test, before = item.config.stash[RECORDED].setdefault(place, (item.nodeid, made))
    if before != made:
        pytest.fail(f"{wanted.name} is recorded already, otherwise, by {test}", pytrace=False)
    changed = store.write(wanted)
    if changed:
        item.user_properties.append((PROPERTY, f"{wanted.folder / wanted.name}: {', '.join(changed)}"))


def pytest_terminal_summary(terminalreporter: Any) -> None:
    """Say what was recorded."""
    lines = [
        told
        for reports in terminalreporter.stats.values()
        for report in reports
        if getattr(report, "when", None) == "call"
        for name, told in report.user_properties
        if name == PROPERTY
    ]
    if lines:
        terminalreporter.section("recorded frames")
        for line in sorted(lines):
            terminalreporter.write_line(line)


@pytest.fixture
def scene(request: pytest.FixtureRequest) -> GivenScene:
    """Scenes by name, path or text: ``scene("flock").frame(0)``."""
    from .fixtures import GivenScene, Places  # noqa: PLC0415 - see the law

    return GivenScene(Places.of(request))


@pytest.fixture
def chip(request: pytest.FixtureRequest) -> GivenChip:
    """Chips by name, path or text: ``chip("curlew")``."""
    from .fixtures import GivenChip, Places  # noqa: PLC0415 - see the law

    return GivenChip(Places.of(request))


@pytest.fixture
def machine(request: pytest.FixtureRequest) -> GivenMachine:
    """Machines of a chip, by its name, path or text: ``machine("curlew")``."""
    from .fixtures import GivenMachine, Places  # noqa: PLC0415 - see the law

    return GivenMachine(Places.of(request))

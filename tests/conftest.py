"""What all suites share: vdpsim's plugin, a flag that records the guide, a home for what commands note, random examples.

The plugin's ``--update-frames`` records goldens.

``normal`` (the default) repeats the same 60 examples on every run, ``landing`` (the default where ``CI`` is set) 100, and
``full`` 300, with what is marked ``soak``, as ``tools/soak suites`` runs them; ``--hypothesis-profile=long`` tries 20,000, with
``--hypothesis-seed=NUMBER`` so that a run can be repeated; ``shrink`` looks for the simplest example of a failure.
"""

from __future__ import annotations

import gc
import os
import signal
from collections.abc import Generator, Iterator

import coverage
import pytest
from hypothesis import HealthCheck, Phase, settings

from vdpsim.testing import plugin

# Suites run side by side: threads of one that wait for each other would only keep the others from their core.
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

_SLOW = [HealthCheck.too_slow, HealthCheck.data_too_large, HealthCheck.filter_too_much, HealthCheck.large_base_example]
_PHASES = [Phase.explicit, Phase.reuse, Phase.generate, Phase.shrink]

for _name, _count in (("normal", 60), ("landing", 100), ("full", 300)):
    settings.register_profile(
        _name, max_examples=_count, deadline=None, derandomize=True, phases=_PHASES, suppress_health_check=_SLOW
    )
settings.register_profile(
    "long", max_examples=20_000, deadline=None, database=None, phases=_PHASES, suppress_health_check=_SLOW
)
settings.register_profile("shrink", max_examples=2_000, deadline=None, phases=_PHASES, suppress_health_check=_SLOW)
settings.load_profile("landing" if os.environ.get("CI") else "normal")


def pytest_addoption(parser: pytest.Parser, pluginmanager: pytest.PytestPluginManager) -> None:
    """Add the project's own flag, and vdpsim's plugin where nothing has told pytest of it: the package of a checkout."""
    if not pluginmanager.hasplugin("vdpsim"):
        pluginmanager.register(plugin, "vdpsim of these suites")
    parser.addoption(
        "--record-guide",
        action="store_true",
        help="write the guide's output and pictures anew from what its pages do now",
    )


@pytest.fixture(scope="session", autouse=True)
def state_home(tmp_path_factory: pytest.TempPathFactory) -> Iterator[None]:
    """Commands note what they have written: in a folder of the tests', not in that of whoever runs them."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("XDG_STATE_HOME", str(tmp_path_factory.mktemp("state")))
        yield


@pytest.fixture(scope="session", autouse=True)
def heard_signals() -> None:
    """Suites that a script runs in the background ignore SIGINT, and so would each process that a test starts and ends so."""
    if signal.getsignal(signal.SIGINT) is signal.SIG_IGN:
        signal.signal(signal.SIGINT, signal.default_int_handler)


def pytest_collection_finish() -> None:
    """What has been collected stays to the end: left out, it makes each search for garbage the cheaper, a twentieth of a run."""
    gc.collect()
    gc.freeze()


@pytest.hookimpl(wrapper=True)
def pytest_runtest_call(item: pytest.Item) -> Generator[None, object, object]:
    """Try what is marked ``unmeasured`` without coverage, in this process and in those that it starts: in half the time."""
    asked = item.get_closest_marker("unmeasured") and item.config.pluginmanager.hasplugin("_cov")
    watch = coverage.Coverage.current() if asked else None
    if watch is None:
        return (yield)
    begin = {name: os.environ.pop(name) for name in list(os.environ) if name.startswith("COVERAGE_PROCESS")}
    watch.stop()
    try:
        return (yield)
    finally:
        watch.start()
        os.environ.update(begin)

"""A real browser for the tests of pages: Debian's chromium, driven by Playwright.

Law: what is missing is a reason to leave a test out, and with ``CI`` set a failure. A page that asks a network for anything, or
that prints an error, fails the test that opened it.
"""

from __future__ import annotations

import os
import shutil
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any
from weakref import WeakKeyDictionary

import pytest

CHROMIUM = shutil.which("chromium") or shutil.which("chromium-browser")


@contextmanager
def browser() -> Iterator[Any]:
    """The browser, without a window."""
    try:
        from playwright.sync_api import sync_playwright  # noqa: PLC0415 - the suites go without it where it is missing
    except ImportError:
        missing("playwright, of the test extra,")
    if CHROMIUM is None:
        missing("chromium (Debian: apt-get install chromium)")
    with sync_playwright() as works:
        made = works.chromium.launch(executable_path=CHROMIUM, args=["--no-sandbox"])
        try:
            yield made
        finally:
            made.close()


def missing(what: str) -> None:
    """Leave the test out, or fail where nothing may be missing."""
    told = f"{what} is missing"
    if os.environ.get("CI"):
        pytest.fail(told)
    pytest.skip(told)


_FREE: WeakKeyDictionary[Any, Any] = WeakKeyDictionary()
"""Of each browser the page that the last test left, to be led to the next address: a new one takes twice as long."""


@contextmanager
def opened(one: Any, address: str, *, has_touch: bool = False, **shown: Any) -> Iterator[Any]:
    """A page that is open at ``address`` and ready; it must ask for nothing from elsewhere and complain of nothing.

    ``shown`` is its ``viewport`` and its ``color_scheme``. It remembers nothing of a page before it.
    """
    shown = {"viewport": {"width": 1500, "height": 1100}, "color_scheme": "light", **shown}
    page = None if has_touch else _FREE.pop(one, None)
    if page is None:
        page = one.new_page(has_touch=has_touch, **shown)
    else:
        page.set_viewport_size(shown["viewport"])
        page.emulate_media(color_scheme=shown["color_scheme"])
    complaints: list[str] = []
    asked: list[str] = []
    heard = {
        "console": lambda message: complaints.append(message.text) if message.type == "error" else None,
        "pageerror": lambda error: complaints.append(str(error)),
        "request": lambda request: asked.append(request.url),
    }
    for event, hear in heard.items():
        page.on(event, hear)
    try:
        page.goto(address)
        page.wait_for_selector("body[data-ready=yes]")
        yield page
        ours = (address.partition("#")[0], "data:", "blob:")
        assert [url for url in asked if not url.startswith(ours)] == []
        assert complaints == []
    except BaseException:
        page.close()
        raise
    if has_touch:
        page.close()
        return
    for event, hear in heard.items():
        page.remove_listener(event, hear)
    page.mouse.move(0, 0)
    page.evaluate("localStorage.clear()")
    page.goto("about:blank")
    _FREE[one] = page

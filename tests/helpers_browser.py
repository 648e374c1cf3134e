"""A browser for tests of pages: the system's Chromium, headless, driven by playwright.

``FORMULA_BROWSER`` names another one.  Without any the tests are skipped; with ``FORMULA_BROWSER_REQUIRED=1`` they
fail.  One session a module is enough: ``@pytest.fixture(scope="module") def browser()`` that yields from ``session()``.
"""

from __future__ import annotations

import os
import shutil
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, Final, Literal

import pytest

NAMES: Final = ("chromium", "chromium-browser", "google-chrome")
QUIET: Final = (
    "--no-sandbox", "--disable-gpu", "--no-first-run", "--disable-background-networking", "--disable-component-update",
    "--disable-sync",
)  # fmt: skip
Scheme = Literal["light", "dark"]

# Given to the page before anything of it runs: whatever it would run or send leaves a mark.
_WATCH: Final = """
window.__ran = [];
for (const name of ['alert', 'confirm', 'prompt', 'open', 'print', 'fetch']) {
  window[name] = (...words) => { window.__ran.push(name + ': ' + words.join(' ')); };
}
"""
_WIDER: Final = """() => [...document.querySelectorAll('body *')]
  .filter(e => !e.closest('.wide, .skip, .seen-by-readers') && !(e instanceof SVGElement && e.ownerSVGElement))
  .filter(e => e.getBoundingClientRect().right > document.documentElement.clientWidth + 1)
  .map(e => e.tagName + '.' + (e.getAttribute('class') || '') + ': ' + (e.textContent || '').slice(0, 60))"""
_TEXT_SIZES: Final = """() => {
  const sizes = {};
  const walker = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
  for (let node = walker.nextNode(); node; node = walker.nextNode()) {
    const parent = node.parentElement;
    if (!node.textContent.trim() || ['TITLE', 'DESC', 'STYLE'].includes(parent.tagName.toUpperCase())) continue;
    const box = parent.getBoundingClientRect();
    if (!box.width || !box.height) continue;
    const size = parseFloat(getComputedStyle(parent).fontSize);
    sizes[size] = sizes[size] || node.textContent.trim().slice(0, 40);
  }
  return sizes;
}"""


def executable() -> str | None:
    """Give the browser's program, or None."""
    named = os.environ.get("FORMULA_BROWSER")
    return named or next((found for name in NAMES if (found := shutil.which(name))), None)


def needed() -> str:
    """Give the browser's program; skip the test, or fail it where a browser is required, when there is none."""
    found = executable()
    if found is not None:
        return found
    if os.environ.get("FORMULA_BROWSER_REQUIRED") == "1":
        pytest.fail(f"no browser: none of {', '.join(NAMES)} is on PATH and FORMULA_BROWSER names none")
    pytest.skip(f"no browser here ({', '.join(NAMES)}): pages are not looked at")


@dataclass
class Page:
    """One page in the browser.  ``requests`` are all URLs that it asked for, ``dialogs`` all that popped up."""

    view: Any
    requests: list[str] = field(default_factory=list)
    dialogs: list[str] = field(default_factory=list)
    errors: list[str] = field(default_factory=list)

    def dismiss(self, dialog: Any) -> None:
        """Note what popped up, and close it."""
        self.dialogs.append(dialog.message)
        dialog.dismiss()

    def run(self, script: str) -> Any:
        """Give what a script of the test finds in the page."""
        return self.view.evaluate(script)

    @property
    def ran(self) -> list[str]:
        """Name what scripts of the page did: calls that were watched, and script elements that the page holds."""
        calls: list[str] = self.run("() => window.__ran")
        scripts: list[str] = self.run("() => [...document.scripts].map(s => 'script: ' + s.textContent)")
        return calls + scripts

    @property
    def sent(self) -> list[str]:
        """Give the requests besides the page itself."""
        return self.requests[1:]

    def overflowing(self) -> list[str]:
        """Name the elements that reach over the right edge, ones that may scroll by themselves left out."""
        found: list[str] = self.run(_WIDER)
        wide = self.run("() => document.documentElement.scrollWidth - document.documentElement.clientWidth")
        return found + ([f"the page scrolls sideways by {wide} px"] if wide > 0 else [])

    def text_sizes(self) -> dict[float, str]:
        """Give the sizes of the text that is seen, in px, each with an example."""
        found: dict[str, str] = self.run(_TEXT_SIZES)
        return {float(size): words for size, words in sorted(found.items(), key=lambda item: float(item[0]))}

    def tab_stops(self, most: int = 200) -> list[str]:
        """Press Tab to the end of the page and give what got the focus, in order: "a: What changed"."""
        stops: list[str] = []
        for _ in range(most):
            self.view.keyboard.press("Tab")
            stop = self.run(
                "() => { const e = document.activeElement; return e === document.body ? '' : e.tagName.toLowerCase()"
                " + ': ' + (e.getAttribute('aria-label') || e.textContent).trim().slice(0, 60); }"
            )
            if not stop:
                break
            stops.append(stop)
        return stops

    def in_sight(self, selector: str) -> bool:
        """Say whether the whole of an element is seen without scrolling."""
        found: bool = self.run(
            f"() => {{ const b = document.querySelector({selector!r}).getBoundingClientRect();"
            " return b.height > 0 && b.top >= 0 && b.bottom <= window.innerHeight && b.right <= window.innerWidth; }"
        )
        return found


class Browser:
    """A browser under way; every page has a profile of its own."""

    def __init__(self, chromium: Any) -> None:
        """Take what playwright started."""
        self._chromium = chromium

    @contextmanager
    def page(
        self, path: Path, *, width: int = 1280, height: int = 800, scheme: Scheme = "light", scripts: bool = True
    ) -> Iterator[Page]:
        """Open a file, at a size and in a colour scheme.

        ``scripts`` leaves scripts on, so that only the page itself can keep them from running.
        """
        context = self._chromium.new_context(
            viewport={"width": width, "height": height}, color_scheme=scheme, java_script_enabled=scripts
        )
        try:
            view = context.new_page()
            page = Page(view)
            context.on("request", lambda request: page.requests.append(request.url))
            view.on("dialog", page.dismiss)
            view.on("pageerror", lambda error: page.errors.append(str(error)))
            context.on("page", lambda other: page.dialogs.append(f"another page: {other.url}"))
            view.add_init_script(_WATCH)
            view.goto(path.resolve().as_uri(), wait_until="load")
            yield page
        finally:
            context.close()

    def dump_dom(self, path: Path) -> str:
        """Give the page as the browser understood it."""
        with self.page(path) as page:
            found: str = page.view.content()
            return found

    def screenshot(
        self, path: Path, out: Path, width: int, height: int, *, scheme: Scheme = "light", whole: bool = False
    ) -> None:
        """Save a picture of what is seen, or of the ``whole`` page."""
        with self.page(path, width=width, height=height, scheme=scheme) as page:
            page.view.screenshot(path=str(out), full_page=whole)

    def print_pdf(self, path: Path, out: Path) -> None:
        """Print a page on A4."""
        with self.page(path) as page:
            page.view.pdf(path=str(out), format="A4", print_background=True, prefer_css_page_size=True)


@contextmanager
def session() -> Iterator[Browser]:
    """Start the browser, and stop it at the end."""
    program = needed()
    from playwright.sync_api import sync_playwright

    with sync_playwright() as playwright:
        chromium = playwright.chromium.launch(executable_path=program, headless=True, args=list(QUIET))
        try:
            yield Browser(chromium)
        finally:
            chromium.close()

"""What every page about recipes has around its content: a way past the top, the name, the hatches of its pictures."""

from __future__ import annotations

from formula_vcs.reports.page.patterns import patterns
from formula_vcs.reports.page.shell import document, escape


def page(name: str, about: str, html: str) -> str:
    """Frame HTML as a page; ``name`` says what kind of page it is and ``about`` what it is about, both plain text."""
    return document(
        f"{name}: {about}",
        f'<a class="skip" href="#content">To the content</a>{patterns()}<header><h1>{escape(name)}</h1>'
        f'<p class="muted">{escape(about)}</p></header>\n<main id="content">{html}</main>',
    )

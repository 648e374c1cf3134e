"""What every page about recipes has around its content: a way past the top, the name, the hatches of its pictures."""

from __future__ import annotations

from formula_vcs.reports.document.markup import Markup
from formula_vcs.reports.page.paper import head_and_foot
from formula_vcs.reports.page.patterns import patterns
from formula_vcs.reports.page.shell import document, escape


def page(name: str, about: str, html: str, *, made: str = "") -> str:
    """Frame HTML as a page; ``name`` says what kind of page it is and ``about`` what it is about, both plain text.

    ``made`` says of which versions and days it is, and by what it was made: without that it proves nothing when filed.
    It stands at the foot of every printed page.
    """
    stamp = f'<p class="small muted">{escape(made)}</p>' if made else ""
    return document(
        f"{name}: {about}",
        Markup(
            f'<a class="skip" href="#content">To the content</a>{patterns()}<header><h1>{escape(name)}</h1>'
            f'<p class="muted">{escape(about)}</p>{stamp}</header>\n<main id="content">{html}</main>'
        ),
        more_style=head_and_foot(0, f"{name}: {about}", foot=made),
    )

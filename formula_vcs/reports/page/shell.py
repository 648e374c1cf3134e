"""The frame of every page: one HTML file with its style inside, no script, and a policy that forbids any."""

from __future__ import annotations

import html
from pathlib import Path
from typing import Final

from formula_vcs.reports.harmless import terminal

# Nothing is fetched, run or sent: the style stands in the file, pictures are inline SVG.
POLICY: Final = "default-src 'none'; style-src 'unsafe-inline'; base-uri 'none'; form-action 'none'"
_STYLE: Final = Path(__file__).with_name("style.css")


def escape(text: str) -> str:
    """Make text harmless in HTML, in an element and in an attribute alike: what is invisible is shown by its code."""
    return html.escape(terminal(text), quote=True)


def document(title: str, body: str) -> str:
    """Give a whole page; ``title`` is plain text, ``body`` is HTML that is escaped already."""
    style = _STYLE.read_text("utf-8")
    return (
        "<!doctype html>\n"
        '<html lang="en">\n<head>\n<meta charset="utf-8">\n'
        f'<meta http-equiv="Content-Security-Policy" content="{POLICY}">\n'
        '<meta name="viewport" content="width=device-width, initial-scale=1">\n'
        '<meta name="color-scheme" content="light dark">\n'
        '<meta name="referrer" content="no-referrer">\n'
        f"<title>{escape(title)}</title>\n<style>\n{style}</style>\n</head>\n<body>\n{body}\n</body>\n</html>\n"
    )

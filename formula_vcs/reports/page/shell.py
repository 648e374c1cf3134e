"""The frame of every page: one HTML file with its style inside, no script, and a policy that forbids any.

How a page is drawn, for whoever writes one:

- Every text of a file goes through ``escape``; ids in a page are made from counters ("r1", "s3"), never from names.
- ``style.css`` has the colours as variables, for light and dark: ``--paper`` (the page), ``--sheet`` (a part, and what
  pictures stand on), ``--ink``, ``--muted``, ``--rule`` (hairlines), ``--rule-strong`` (axes), ``--good``, ``--bad``,
  ``--warn``, ``--note`` (words; each with a ``-wash`` behind them), ``--series-1`` to ``-6`` (marks), ``--past`` (what
  was before).
- Use classes, not ``style=``: ``sheet`` a section; ``verdict`` and ``tag`` with good, bad, warn or note; ``n`` a cell
  of a number, ``num``, ``muted``, ``small``, ``id``; ``wide`` a table that may scroll by itself (give it tabindex="0",
  role="region" and aria-label); ``seen-by-readers`` for screen readers only.  In SVG ``s1`` to ``s6`` fill, ``l1`` to
  ``l6`` draw lines, ``past``, ``axis``, ``grid``, ``limit`` (the dashed line of a limit), ``edge``.
- A picture is ``<figure>`` with a ``<figcaption>`` that says what it shows, and ``<svg role="img" width="100%"
  height="N">`` with ``<title>`` and ``<desc>`` (shapes.py makes it), x and width in percent and y in pixels: bars then
  stretch from 390 to 1280 px and words keep their size.  Colour is never alone: words beside it, a pattern, a dash.
"""

from __future__ import annotations

from pathlib import Path
from typing import Final

from formula_vcs.reports.document.markup import Markup, escaped

# Nothing is fetched, run or sent: the style stands in the file, pictures are inline SVG.
POLICY: Final = "default-src 'none'; style-src 'unsafe-inline'; base-uri 'none'; form-action 'none'"
_STYLE: Final = Path(__file__).with_name("style.css")


def escape(text: str) -> str:
    """Make text harmless, for whoever writes tags by hand around it."""
    return escaped(text)


def document(title: str, body: Markup, *, more_style: str = "", pictures: bool = False) -> str:
    """Give a whole page; ``title`` is plain text, ``body`` what stands in it, ``more_style`` is CSS.

    ``pictures`` lets pictures that stand in the page itself be seen; none is ever fetched.
    """
    policy = f"{POLICY}; img-src data:" if pictures else POLICY
    style = _STYLE.read_text("utf-8") + more_style
    return (
        "<!doctype html>\n"
        '<html lang="en">\n<head>\n<meta charset="utf-8">\n'
        f'<meta http-equiv="Content-Security-Policy" content="{policy}">\n'
        '<meta name="viewport" content="width=device-width, initial-scale=1">\n'
        '<meta name="color-scheme" content="light dark">\n'
        '<meta name="referrer" content="no-referrer">\n'
        f"<title>{escape(title)}</title>\n<style>\n{style}</style>\n</head>\n<body>\n{body}\n</body>\n</html>\n"
    )

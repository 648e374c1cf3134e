"""Weigh sheets as PDF: the HTML page, laid out by WeasyPrint, which is an extra and loaded only here."""

from __future__ import annotations

import logging
from collections.abc import Callable, Sequence
from typing import Final

from formula_vcs.batches.weigh_sheet import WeighSheet
from formula_vcs.errors import UserError
from formula_vcs.reports.weigh_sheet.html import page

_EXTRA = "install it with: pip install 'formula-vcs[pdf]'"
_LIBRARIES = "on Debian and Ubuntu: apt install libpango-1.0-0 libpangoft2-1.0-0 libharfbuzz-subset0"
# What is laid out: lines and steps, each sheet counted as some; a few seconds of work.
_MOST: Final = 900
_SHEET: Final = 20


def pdf(sheets: Sequence[WeighSheet]) -> bytes:
    """Give the bytes of a PDF.

    :raises UserError: as :func:`laid_out`.
    """
    lines = sum(len(sheet.lines) + len(sheet.steps) + _SHEET for sheet in sheets)
    if lines > _MOST:
        pages = "1 sheet" if len(sheets) == 1 else f"{len(sheets)} sheets"
        raise UserError(f"{pages}: so many lines take too long as a PDF; write html and print it from a browser")
    return laid_out(page(sheets))


def laid_out(html: str) -> bytes:
    """Lay a page out on paper.

    :raises UserError: WeasyPrint, or a system library that it needs, is not there.
    """
    make = _library()
    # it warns of style for browsers that paper has no use for; what is wrong with the page a test finds
    logging.getLogger("weasyprint").setLevel(logging.CRITICAL)
    return make(html)


def _library() -> Callable[[str], bytes]:
    try:
        from weasyprint import HTML
    except ImportError:
        raise UserError(f"a PDF is written by WeasyPrint, which is not installed; {_EXTRA}") from None
    except OSError as error:  # cffi finds no Pango
        reason = str(error).splitlines()[0]
        raise UserError(f"WeasyPrint misses a library of the system ({reason}); {_LIBRARIES}") from None

    def make(text: str) -> bytes:
        data: bytes = HTML(string=text, url_fetcher=_nothing).write_pdf()
        return data

    return make


def _nothing(url: str, *_: object, **__: object) -> dict[str, object]:
    """Fetch nothing: a sheet is whole in itself, and a file of a pull request must not reach out."""
    raise ValueError(f"a sheet fetches nothing: {url[:60]}")

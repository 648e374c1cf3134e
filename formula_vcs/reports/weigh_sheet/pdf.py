"""Weigh sheets as PDF: the HTML page, laid out on paper."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

from formula_vcs.batches.weigh_sheet import WeighSheet
from formula_vcs.errors import UserError
from formula_vcs.reports.page.on_paper import laid_out
from formula_vcs.reports.weigh_sheet.html import page

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

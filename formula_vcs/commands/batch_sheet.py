"""``git formula batch sheet BATCH``: print the sheet of a batch, or its cost; how sheets are written."""

from __future__ import annotations

import argparse
import io
import os
import sys
from collections.abc import Sequence
from importlib import import_module
from pathlib import Path
from typing import Final

from formula_vcs.batches.made_batches import own_premixes, pinned_formula, records_of
from formula_vcs.batches.weigh_sheet import WeighSheet, in_order, sheet_of
from formula_vcs.commands import workspace_args
from formula_vcs.errors import OK, UserError
from formula_vcs.evidence.pinned_versions import PinnedVersions
from formula_vcs.model.batch import Batch
from formula_vcs.toml.takers import nearest
from formula_vcs.workspace.snapshot import Snapshot, find_workspace, id_of

_ENDINGS: Final = {".html": "html", ".htm": "html", ".pdf": "pdf", ".json": "json", ".txt": "text"}


def run(args: argparse.Namespace, word: str) -> int:
    """Print the sheet of a batch, and of the premixes that were made for it."""
    place = place_of(args, word)
    with place.work_tree() as here, PinnedVersions(place.repo, place.folder, store=place.store) as pins:
        batch = find(here, place, word)
        sheets = []
        for one in (batch, *own_premixes(here, batch)):
            formula = pinned_formula(pins, one)
            sheets.append(sheet_of(one, formula, here.equipment))
        output(sheets, args)
    sys.stdout.flush()
    return OK


def cost(args: argparse.Namespace, word: str) -> int:
    """``git formula batch cost BATCH``: what it cost at its lots and masses, against standard, split into effects."""
    from formula_vcs.batches.batch_cost import batch_cost
    from formula_vcs.reports import formats
    from formula_vcs.reports.batch_cost import REPORT, CostShown

    if args.format not in formats.EVERY or args.output:
        raise UserError(f"'batch cost' prints {', '.join(formats.EVERY)}, to the terminal")
    place = place_of(args, word)
    with place.work_tree() as here, PinnedVersions(place.repo, place.folder, store=place.store) as pins:
        batch = find(here, place, word)
        report = batch_cost(batch, pinned_formula(pins, batch), *records_of(here))
        formats.write(REPORT, CostShown(batch, report), args.format, sys.stdout)
    sys.stdout.flush()
    return OK


def find(here: Snapshot, place: workspace_args.WorkspaceRef, word: str) -> Batch:
    """Find a batch by its id or file.

    :raises UserError: there is none, or its file does not parse.
    """
    path = _path(here, place, word)
    read = here.read(path)
    if not read.whole:
        first = min(read.findings, key=lambda finding: (finding.line, finding.column))
        raise UserError(f"{place.shown(path)}:{first.line}:{first.column}: {first.message}")
    return Batch(id_of(path), read.facts, path)


def _path(here: Snapshot, place: workspace_args.WorkspaceRef, word: str) -> str:
    known = here.ids("batches")
    if word in known:
        return known[word]
    if word.endswith(".toml") or os.sep in word or "/" in word:
        # as it lies from here; from the top of the workspace, as other files name it; by its name alone
        typed = place.in_workspace(word) if os.path.lexists(word) else ""
        for path in (typed, os.path.normpath(word), f"batches/{os.path.normpath(word)}"):
            if path in known.values():
                return path
            if path == typed and path in here.listing:
                raise UserError(f"'{word}' is no batch; those lie in batches/")
    raise UserError(f"no batch is called '{word}'{nearest(id_of(word), known)}")


def place_of(args: argparse.Namespace, word: str) -> workspace_args.WorkspaceRef:
    """Find the workspace of a batch: the one that was named, the one that its file lies in, or the one here."""
    if args.workspace is None and "/" in word and os.path.lexists(word):
        around = find_workspace(Path(os.path.normpath(Path.cwd() / word)).parent)
        if around is not None:
            return workspace_args.place(str(around))
    return workspace_args.place(args.workspace)


def output(sheets: Sequence[WeighSheet], args: argparse.Namespace) -> None:
    """Write sheets to where they were asked for: the terminal, or a file.

    :raises UserError: the format does not fit, the file cannot be written, or what makes a PDF is not installed.
    """
    emit(rendered(sheets, args), args)


def rendered(sheets: Sequence[WeighSheet], args: argparse.Namespace) -> bytes | str:
    """Give the sheets in the format that was asked for; a PDF is bytes."""
    sheets = in_order(sheets)
    form = args.format
    if args.output not in (None, "-") and form == "text":
        form = _ENDINGS.get(Path(args.output).suffix.lower(), "text")
    if form == "pdf":
        from formula_vcs.reports.weigh_sheet import pdf as weigh_sheet_pdf

        if args.output in (None, "-") and sys.stdout.isatty():
            raise UserError("a PDF is no text for a terminal: name a file, -o sheet.pdf")
        return weigh_sheet_pdf.pdf(sheets)
    if form == "html":
        from formula_vcs.reports.weigh_sheet import html as weigh_sheet_html

        return weigh_sheet_html.page(sheets)
    out = io.StringIO()
    import_module(f"formula_vcs.reports.weigh_sheet.{form}").write(sheets, out=out)
    return out.getvalue()


def emit(report: bytes | str, args: argparse.Namespace) -> None:
    """Write a report to the terminal or to the file that was named."""
    if args.output not in (None, "-"):
        from formula_vcs.toml.atomic import write_output

        write_output(args.output, report if isinstance(report, bytes) else report.encode("utf-8"))
    elif isinstance(report, bytes):
        sys.stdout.buffer.write(report)
    else:
        sys.stdout.write(report)

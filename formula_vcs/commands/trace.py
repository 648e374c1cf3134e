"""``git formula trace``: why two batches differ, how one stands to its recipe, or what is unusual in it."""

from __future__ import annotations

import argparse
import io
import os
import sys
from pathlib import Path
from typing import TYPE_CHECKING, Final, TextIO

from formula_vcs.commands import workspace_args
from formula_vcs.errors import OK, UserError

if TYPE_CHECKING:
    from formula_vcs.evidence.pinned_versions import PinnedVersions
    from formula_vcs.model.batch import Batch
    from formula_vcs.trace.batch_context import Records
    from formula_vcs.trace.series import Series
    from formula_vcs.workspace.snapshot import Snapshot

LAST: Final = 20
_MOST: Final = 10_000


def arguments(parser: argparse.ArgumentParser) -> None:
    """Declare what can be typed."""
    parser.add_argument("batches", nargs="+", metavar="BATCH", help="a batch's id or file; two of them are compared")
    parser.add_argument("--against-recipe", action="store_true", help="compare one batch with what its recipe asks")
    parser.add_argument("--against", metavar="RECIPE", help="find what is unusual in it among batches of a recipe")
    parser.add_argument("--last", type=int, metavar="N", help=f"how many, the latest before it (default {LAST})")
    parser.add_argument("--rev", metavar="REV", help="the batches and lots as they were in a commit")
    parser.add_argument("--format", choices=("text", "json", "markdown", "html"), default="text")
    parser.add_argument("-o", "--output", metavar="FILE", help="write to a file instead")
    workspace_args.option(parser)


def run(args: argparse.Namespace) -> int:
    """Trace."""
    kind = _kind(args)
    from formula_vcs.evidence.pinned_versions import PinnedVersions
    from formula_vcs.trace.batch_context import Records

    place = workspace_args.place(args.workspace, args.rev)
    snapshot = place.revision(args.rev) if args.rev else place.work_tree()
    with snapshot as here, PinnedVersions(place.repo, place.folder, store=place.store) as pins:
        records = Records(here)
        batches = [_batch(records, place, word) for word in args.batches]
        if kind == "peers":
            text = _peers(args, records, pins, place, batches[0])
        else:
            text = _trace(args, records, pins, place, batches)
    _put(text, args.output)
    workspace_args.say_arming(place)
    return OK


def _kind(args: argparse.Namespace) -> str:
    """Say which of the three questions is asked.

    :raises UserError: the words fit none, or two.
    """
    one, two = args.against_recipe, args.against is not None
    if one and two:
        raise UserError("--against-recipe and --against ask two things; one of them will do")
    if args.last is not None and not two:
        raise UserError("--last says how many batches --against a recipe looks at")
    if args.last is not None and not 0 < args.last <= _MOST:
        raise UserError(f"--last {args.last}: how many batches? 1 or more")
    wanted = 1 if one or two else 2
    if len(args.batches) != wanted:
        words = "two batches to compare" if wanted == 2 else "one batch"
        more = "" if wanted == 1 else "; one alone goes with --against-recipe or --against RECIPE"
        raise UserError(f"name {words}{more}")
    return "peers" if two else "recipe" if one else "pair"


def _trace(
    args: argparse.Namespace,
    records: Records,
    pins: PinnedVersions,
    place: workspace_args.WorkspaceRef,
    batches: list[Batch],
) -> str:
    from formula_vcs.reports import formats
    from formula_vcs.reports.trace import REPORT, TraceShown
    from formula_vcs.trace.trace import Tracer

    tracer = Tracer(records, pins, place.repo, place.folder)
    found = tracer.against_recipe(batches[0]) if args.against_recipe else tracer.trace(batches[0], batches[1])
    out = _out(args)
    charts: tuple[Series, ...] = ()
    if args.format == "html":
        from formula_vcs.trace.series import series

        former = _former(records, place, args.rev, batches[-1].recipe or "")
        charts = tuple(series(records, pins, found, former))
    formats.write(REPORT, TraceShown(found, charts), args.format, out)
    return _written(out)


def _former(records: Records, place: workspace_args.WorkspaceRef, revision: str | None, recipe: str) -> frozenset[str]:
    """Name what a recipe was called before; the history is read only where batches name a recipe that is gone."""
    if not records.gone or place.repo is None:
        return frozenset()
    from formula_vcs.history.versions import former_ids

    try:
        return former_ids(place.repo, place.folder, recipe, revision or "HEAD") & records.gone
    except UserError:  # no commit yet, or a history that cannot be read: nothing is known of other names
        return frozenset()


def _peers(
    args: argparse.Namespace, records: Records, pins: PinnedVersions, place: workspace_args.WorkspaceRef, batch: Batch
) -> str:
    from formula_vcs.reports import formats, peers
    from formula_vcs.trace.peers import among

    known = records.snapshot.ids("recipe")
    recipe = args.against
    if recipe not in known and recipe in _former(records, place, args.rev, batch.recipe or ""):
        recipe = batch.recipe
    elif recipe not in known and not records.of_recipe(recipe):
        from formula_vcs.toml.takers import nearest

        raise UserError(f"no recipe is called '{recipe}'{nearest(recipe, known)}")
    former = _former(records, place, args.rev, recipe)
    found = among(records, pins, batch, recipe, args.last or LAST, former=former)
    out = _out(args)
    formats.write(peers.REPORT, found, args.format, out)
    return _written(out)


def _out(args: argparse.Namespace) -> TextIO:
    """Give what a report is written to: the terminal itself, which may have colour, or memory."""
    return sys.stdout if args.format == "text" and args.output in (None, "-") else io.StringIO()


def _written(out: TextIO) -> str:
    return out.getvalue() if isinstance(out, io.StringIO) else ""


def _batch(records: Records, place: workspace_args.WorkspaceRef, word: str) -> Batch:
    """Find a batch by its id or its file.

    :raises UserError: there is none, or its file does not parse.
    """
    here = records.snapshot
    path = _path(here, place, word)
    name = Path(path).stem
    found = records.batch(name)
    if found is None:
        first = min(here.read(path).findings, key=lambda finding: (finding.line, finding.column))
        raise UserError(f"{place.shown(path)}:{first.line}:{first.column}: {first.message}")
    return found


def _path(here: Snapshot, place: workspace_args.WorkspaceRef, word: str) -> str:
    known = here.ids("batches")
    if word in known:
        return known[word]
    if word.endswith(".toml") or os.sep in word or "/" in word:
        path = place.in_workspace(word)
        if path in known.values():
            return path
    from formula_vcs.toml.takers import nearest

    raise UserError(f"no batch is called '{word}' ({here.label}){nearest(Path(word).stem, known)}")


def _put(text: str, output: str | None) -> None:
    if output in (None, "-"):
        sys.stdout.write(text)
        sys.stdout.flush()
        return
    from formula_vcs.toml.atomic import write_output

    assert output is not None  # noqa: S101 - asked above
    write_output(output, text.encode("utf-8"))

"""``git formula survey``: every recipe in one table, and what would become of them if something changed."""

from __future__ import annotations

import argparse
import re
import sys
from pathlib import Path
from typing import Final

from formula_vcs.commands import workspace_args
from formula_vcs.commands.progress import Ticker
from formula_vcs.errors import BLOCKED, OK, UserError
from formula_vcs.model.law_row import MARKETS
from formula_vcs.reports import formats
from formula_vcs.reports.survey import REPORT, SurveyShown
from formula_vcs.survey.chosen import GROUPS, SORTS, chosen, grouped
from formula_vcs.survey.survey import DEADLINE, LABEL, surveyed, with_evidence
from formula_vcs.survey.what_if import read_what_if
from formula_vcs.toml.syntax import LIMIT
from formula_vcs.words.quoting import quoted

_JOBS: Final = 64


def arguments(parser: argparse.ArgumentParser) -> None:
    """Declare what can be typed."""
    parser.add_argument(
        "words", nargs="*", metavar="WORD|KEY=VALUE",
        help="only recipes that hold a word, key=value, 'key>number': status=block, 'cost>3', 'limit>=80'",
    )  # fmt: skip
    ask = parser.add_argument_group("what if, alone or together")
    ask.add_argument(
        "--price", action="append", default=[], metavar="INGREDIENT=PRICE",
        help="a material at another price: shea-butter='+20 %%', shea-butter='7.40 EUR/kg'",
    )  # fmt: skip
    ask.add_argument(
        "--replace", action="append", default=[], metavar="OLD=NEW", help="a material in the place of another"
    )
    ask.add_argument("--rule", action="append", default=[], metavar="FILE", help="the rules of a file too")
    ask.add_argument("--as-of", metavar="DATE", help="on another day than the one it is")
    ask.add_argument("--market", action="append", default=[], choices=MARKETS, help="sold in that market too")
    ask.add_argument(
        "--without", action="append", default=[], metavar="SUBSTANCE", help="a substance that nothing may hold any more"
    )
    parser.add_argument("--on", metavar="DATE", help="how all is on a day (default: today)")
    parser.add_argument("--sort", choices=SORTS, default="worst", help="the order (default: the worst first)")
    parser.add_argument("--by", choices=GROUPS, help="recipes in groups")
    parser.add_argument("--label", action="store_true", help="the ingredient list of each too")
    parser.add_argument("--deadline", action="store_true", help="what the law will not allow within 24 months too")
    parser.add_argument("--jobs", metavar="N", help="how many processes work on many recipes (default: all cores)")
    parser.add_argument("--rev", metavar="REV", help="the recipes as they were in a commit")
    parser.add_argument("--format", choices=(*formats.EVERY, "csv"), default="text")
    workspace_args.option(parser)


def run(args: argparse.Namespace) -> int:
    """Look at all; 1 where a recipe would break, or blocks where nothing else is asked."""
    from formula_vcs.evidence.pinned_versions import PinnedVersions

    today = workspace_args.terms(args.on).day
    jobs = _jobs(args.jobs)
    place = workspace_args.place(args.workspace, args.rev)
    with place.revision(args.rev) if args.rev else place.work_tree() as snapshot:
        if not snapshot.exists:
            raise UserError(f"no workspace.toml in {place.shown('.')} ({snapshot.label})")
        asked = read_what_if(
            snapshot, prices=args.price, replaced=args.replace, rules=[(name, _bytes(name)) for name in args.rule],
            markets=args.market, without=args.without,
            day=workspace_args.day(args.as_of) if args.as_of else None, today=today,
        )  # fmt: skip
        more = [name for name, wanted in ((LABEL, args.label), (DEADLINE, args.deadline)) if wanted]
        with Ticker("looking at") as ticking:
            every = list(surveyed(snapshot, today, asked, more=more, progress=ticking, processes=jobs))
        if snapshot.ids("evidence"):
            with PinnedVersions(place.repo, place.folder, snapshot) as pins:
                every = with_evidence(every, snapshot, pins, today, asked)
    found = chosen(every, args.words, args.sort)
    shown = SurveyShown(
        grouped(found, args.by), len(every), asked.words, today.isoformat(), label=args.label, deadline=args.deadline
    )
    _write(shown, args.format)
    workspace_args.say_arming(place)
    failing = any(one.breaks for one in found) if asked else any(one.now.blocks for one in found)
    return BLOCKED if failing else OK


def _write(shown: SurveyShown, form: str) -> None:
    if form == "csv":
        from formula_vcs.sheets.write_tables import separated, survey_table

        sys.stdout.buffer.write(separated(survey_table(shown.recipes)))
        sys.stdout.buffer.flush()
        return
    formats.write(REPORT, shown, form, sys.stdout)
    sys.stdout.flush()


def _jobs(text: str | None) -> int | None:
    if text is None:
        return None
    if re.fullmatch(r"[1-9]\d{0,2}", text) is None or int(text) > _JOBS:
        raise UserError(f"--jobs {quoted(text)}: a number of processes, 1 to {_JOBS}")
    return int(text)


def _bytes(name: str) -> bytes:
    path = Path(name)
    if not path.is_file():
        raise UserError(f"--rule {quoted(name)}: no such file")
    with path.open("rb") as file:
        data = file.read(LIMIT + 1)
    if len(data) > LIMIT:
        raise UserError(f"--rule {quoted(name)}: too large for a file of rules")
    return data

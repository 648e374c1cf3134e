"""``git formula list``: what is in a workspace, a line each, filtered by anything."""

from __future__ import annotations

import argparse
import sys

from formula_vcs.commands import workspace_args
from formula_vcs.errors import OK, UserError
from formula_vcs.reports import formats, listing
from formula_vcs.review.listed_files import KINDS, listed, wrong_word


def arguments(parser: argparse.ArgumentParser) -> None:
    """Declare what can be typed."""
    parser.add_argument(
        "words",
        nargs="*",
        metavar="KIND|WORD|KEY=VALUE",
        help=f"kinds of files ({', '.join(KINDS)}), and what they must hold: a word, key=value, 'key>number'",
    )
    parser.set_defaults(offered={"": KINDS})
    parser.add_argument("--without", action="append", default=[], metavar="WORD", help="leave out what holds this")
    parser.add_argument("--format", choices=formats.EVERY, default="text")
    parser.add_argument("--rev", metavar="REV", help="as it was in a commit")
    parser.add_argument("--as-of", metavar="DATE", help="prices and findings as of a day (default: today)")
    workspace_args.option(parser)


def run(args: argparse.Namespace) -> int:
    """Print the list."""
    kinds = [word for word in args.words if word in KINDS]
    words = [word for word in args.words if word not in KINDS]
    for word in (*words, *args.without):
        if wrong_word(word):
            raise UserError(wrong_word(word))
    place = workspace_args.place(args.workspace, args.rev)
    terms = workspace_args.terms(args.as_of)
    with place.revision(args.rev) if args.rev else place.work_tree() as snapshot:
        found = [
            one
            for one in listed(snapshot, kinds or KINDS, terms)
            if all(one.fits(word) for word in words) and not any(one.fits(word) for word in args.without)
        ]
    formats.write(listing.REPORT, found, args.format, sys.stdout)
    sys.stdout.flush()
    return OK

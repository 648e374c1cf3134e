"""``git formula diff``: what changed between two versions and what it does, in the words of the trade."""

from __future__ import annotations

import argparse
import sys
from importlib import import_module

from formula_vcs.commands import revision_args, workspace_args
from formula_vcs.errors import BLOCKED, OK


def arguments(parser: argparse.ArgumentParser) -> None:
    """Declare what can be typed."""
    revision_args.arguments(parser)
    parser.add_argument("--exit-code", action="store_true", help="end with 1 where anything differs in meaning")


def run(args: argparse.Namespace) -> int:
    """Compare HEAD, or the revision given, with the work tree; or the two sides of a range."""
    asked = revision_args.asked(args, review=False)
    writer = import_module(f"formula_vcs.reports.diff.{args.format}")
    writer.write(asked.comparison, title=asked.title, out=sys.stdout)
    if len(asked.named) > 1 and not differs(asked):
        one, other = asked.named[:2]
        sys.stderr.write(
            "each was compared with its own earlier version; two recipes side by side:\n"
            f"  git formula export comparison {one} {other}\n"
        )
    workspace_args.say_arming(*asked.places)
    return BLOCKED if args.exit_code and differs(asked) else OK


def differs(asked: revision_args.ComparisonRequest) -> bool:
    """Say whether anything differs in meaning."""
    comparison = asked.comparison
    return bool(comparison.beside) or any(review.status != "same" for review in comparison.reviews)

"""``git formula review``: what a change is, what it does, what it breaks and what has to follow."""

from __future__ import annotations

import argparse
import sys
from importlib import import_module

from formula_vcs.commands import revision_args, subsets, workspace_args
from formula_vcs.errors import BLOCKED, OK, UserError
from formula_vcs.model.finding import blocks


def arguments(parser: argparse.ArgumentParser) -> None:
    """Declare what can be typed."""
    revision_args.arguments(parser, (*revision_args.FORMATS, *workspace_args.HOSTS))
    subsets.arguments(parser)
    parser.add_argument(
        "--fail-on",
        choices=("block", "warn", "note", "never"),
        default="block",
        help="end with 1 where a changed recipe has such a finding, or a worse one (default: block)",
    )

    parser.add_argument(
        "--guard",
        choices=("block", "warn"),
        default="warn",
        help="how bad it is where a change loosens what judges it (default: warn)",
    )


def run(args: argparse.Namespace) -> int:
    """Review what a pull request would bring, or what the words name; say by the exit status whether it blocks."""
    if args.patch is not None and not (args.only or args.without):
        raise UserError("--patch writes some of the changes: name them with --only or --without; all are 'git diff'")
    asked = revision_args.asked(args, review=True)
    reviews = asked.comparison.reviews
    findings = [finding for review in reviews for finding in (*(item.finding for item in review.new), *review.still)]
    findings += asked.comparison.guarded
    blocked = blocks(findings, args.fail_on)
    if args.patch is not None:
        subsets.write_patch(args.patch, asked.files)
    if args.patch != "-":
        _write(args.format, asked, blocked=blocked)
    workspace_args.say_arming(*asked.places)
    return BLOCKED if blocked else OK


def _write(form: str, asked: revision_args.ComparisonRequest, *, blocked: bool) -> None:
    if form in workspace_args.HOSTS:
        from formula_vcs.reports.hosts import remarks

        remarks.write(form, remarks.of_review(asked.comparison), "review", blocked=blocked, out=sys.stdout)
        return
    writer = import_module(f"formula_vcs.reports.review.{form}")
    writer.write(asked.comparison, title=asked.title, evidence=asked.evidence, blocked=blocked, out=sys.stdout)

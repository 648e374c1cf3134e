"""``git formula propose``: the smallest or the cheapest change of a recipe that reaches what is asked."""

from __future__ import annotations

import argparse
import re
import sys
from collections.abc import Sequence
from fractions import Fraction
from typing import Final

from formula_vcs.commands import recipe_args, workspace_args
from formula_vcs.errors import BLOCKED, OK, UserError
from formula_vcs.git.patch import FileChange
from formula_vcs.mending.propose import BY, BY_TRYING, MovableCharge, Proposal, movable, propose
from formula_vcs.mending.target import read_target
from formula_vcs.model.values import replace
from formula_vcs.reports import formats
from formula_vcs.words.late_pattern import late_pattern
from formula_vcs.words.quoting import quoted

_MOVE: Final = late_pattern(r"\s*(?P<name>[^\s]+)(?:\s+(?P<span>.+?))?\s*")
_MOST_CHARGES: Final = 60


def arguments(parser: argparse.ArgumentParser) -> None:
    """Declare what can be typed."""
    parser.add_argument("target", metavar="RECIPE[@REV]", help="a recipe's id, or REV:PATH, or a path")
    parser.add_argument(
        "--target", metavar="TARGET", action="append", dest="targets",
        help="what to reach: 'natural-origin at least 98 %%', 'cost at most 2.00 EUR/kg'; again for more "
        "(default: that nothing blocks)",
    )  # fmt: skip
    parser.add_argument(
        "--move", metavar="CHARGE", action="append",
        help="what may move, and within what: glycerin, 'glycerin 2 to 6 %%', 'A/glycerin at most 5 %%'; again for "
        "more (default: every amount but preservatives)",
    )  # fmt: skip
    parser.add_argument("--by", choices=BY, default="smallest", help="the smallest change, or the cheapest recipe")
    parser.add_argument(
        "--most", metavar="N", default=str(BY_TRYING), help=f"how many charges may move at once (default: {BY_TRYING})"
    )
    parser.add_argument("--patch", metavar="FILE", help="write the change for 'git apply'; '-' prints it alone")
    parser.add_argument("--batch", metavar="MASS", help="the batch size that costs are quoted for")
    parser.add_argument("--format", choices=formats.EVERY, default="text")
    recipe_args.arguments(parser, "recipe")


def run(args: argparse.Namespace) -> int:
    """Look, say what was found; 1 where nothing was."""
    terms = workspace_args.terms(args.as_of, args.batch)
    if re.fullmatch(r"[1-9]\d{0,2}", args.most) is None:
        raise UserError(f"--most {quoted(args.most)}: a number of charges, from 1")
    target = recipe_args.find(args.target, revision=args.rev, workspace=args.workspace, wanted=("recipe",))
    with target.snapshot:
        recipe = recipe_args.readable(target)
        formula = target.snapshot.formula(recipe)
        moving = _moving(args.move, movable(formula))
        asked = [read_target(text, formula, terms) for text in dict.fromkeys(args.targets or ())]
        found = propose(formula, asked, moving, terms, by=args.by, most=int(args.most))
        found = _placed(found, target)
        if args.patch is not None and found.formula is not None:
            _write_patch(args.patch, target, found)
    if args.patch != "-" or found.formula is None:
        formats.write(formats.named("propose"), found, args.format, sys.stderr if args.patch == "-" else sys.stdout)
        sys.stdout.flush()
    workspace_args.say_arming(target.place)
    return BLOCKED if found.formula is None else OK


def _placed(found: Proposal, target: recipe_args.Target) -> Proposal:
    placed = [
        tuple(replace(one, shown=target.shown(one.file)) for one in map(target.snapshot.place, findings))
        for findings in (found.warned, found.still)
    ]
    return replace(found, warned=placed[0], still=placed[1])


def _moving(typed: Sequence[str] | None, there: list[MovableCharge]) -> list[MovableCharge]:
    """Give what may move as it was typed.

    :raises UserError: a name is none of the recipe's charges that can move, or its bounds are no span of percent.
    """
    if typed is None:
        found = [one for one in there if not one.preserves]
    else:
        chosen: dict[tuple[str, ...], MovableCharge] = {}
        for text in typed:
            for one in _named(text, there):
                if one.knob.path in chosen:
                    raise UserError(f"--move {quoted(text)}: that charge is named twice")
                chosen[one.knob.path] = one
        found = list(chosen.values())
    if not found:
        raise UserError("no charge of this recipe can move: amounts are what can, and those kept for adjusting cannot")
    if len(found) > _MOST_CHARGES:
        raise UserError(
            f"{len(found)} charges may move, and {_MOST_CHARGES} are the most: name those that may with --move"
        )
    return found


def _named(text: str, there: list[MovableCharge]) -> list[MovableCharge]:
    match = _MOVE.fullmatch(text)
    if match is None:
        raise UserError(f"--move {quoted(text)}: write it like 'glycerin 2 to 6 %'")
    name = match["name"]
    found = [one for one in there if name in (f"{one.knob.path[1]}/{one.knob.path[3]}", one.knob.path[3])]
    if not found:
        from formula_vcs.toml.takers import nearest

        hint = nearest(name, [one.knob.path[3] for one in there])
        raise UserError(
            f"--move {quoted(text)}: no charge called '{name}' can move{hint}; the balance, what takes the rest and "
            "what is kept for adjusting cannot"
        )
    return [one if match["span"] is None else _within(text, match["span"], one) for one in found]


def _within(text: str, span: str, one: MovableCharge) -> MovableCharge:
    from formula_vcs.units.unit_reading import QuantityError, read_range

    try:
        bounds = read_range(span, "share")
    except QuantityError as bad:
        raise UserError(f"--move {quoted(text)}: {bad.message}") from None
    low = Fraction(0) if bounds.low is None else bounds.low.base * 100
    high = Fraction(100) if bounds.high is None else bounds.high.base * 100
    if not bounds.ordered() or high > 100:
        raise UserError(f"--move {quoted(text)}: amounts go up, from 0 to 100 %")
    return replace(one, least=low, most=high)


def _write_patch(name: str, target: recipe_args.Target, found: Proposal) -> None:
    from formula_vcs.commands.subsets import write_patch
    from formula_vcs.review.subset import content_of
    from formula_vcs.toml.write_facts import CannotWrite, rewritten

    assert found.formula is not None  # noqa: S101 - the caller has one
    old = content_of(target.snapshot, target.file) or b""
    text = old.decode("utf-8", "surrogateescape")
    try:
        new = rewritten(text, found.formula.recipe.facts, "recipe")
    except CannotWrite as error:
        raise UserError(f"{target.shown(target.file)}: {error}") from None
    folder = f"{target.place.folder}/" if target.place.folder else ""
    write_patch(name, [FileChange(f"{folder}{target.file}", old, new.encode("utf-8", "surrogateescape"))])

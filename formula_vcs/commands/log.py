"""``git formula log``: the versions of a recipe, its figures over time, and when a figure crossed a line."""

from __future__ import annotations

import argparse
import datetime
import re
import sys
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from fractions import Fraction
from importlib import import_module
from typing import TYPE_CHECKING

from formula_vcs.commands import recipe_args, workspace_args
from formula_vcs.errors import OK, UserError
from formula_vcs.figures.figure_table import FIGURES, figure_name
from formula_vcs.git import commit_log, repository
from formula_vcs.history.blame import TrailStop, trail
from formula_vcs.history.crossing import TermsAt, Threshold, crossings, figure_of, terms_at
from formula_vcs.history.versions import History, Version, versions
from formula_vcs.law.claims.contents import CONTENT
from formula_vcs.model.values import dataclass, replace
from formula_vcs.reports.log.sheet import DEFAULTS, LogSheet, When, row
from formula_vcs.review.figure_weight import claimed
from formula_vcs.toml.takers import nearest

if TYPE_CHECKING:
    from formula_vcs.approvals.judging import Approvals
    from formula_vcs.model.approval import RoleStanding
    from formula_vcs.model.formula import Formula

_MOST_CLAIMED = 4  # figures of claims that a page draws
_DATE = re.compile(r"\d{4}-\d{2}-\d{2}")

_LISTED = "; 'git formula show' lists them"


def arguments(parser: argparse.ArgumentParser) -> None:
    """Declare what can be typed."""
    parser.add_argument("target", metavar="RECIPE[@REV]|REV:PATH|PATH", help="a recipe; REV is the last commit shown")
    parser.add_argument("--rev", metavar="REV", help="the last commit shown (default: HEAD)")
    parser.add_argument("--charge", metavar="INGREDIENT", help="only versions that changed this in the recipe")
    parser.add_argument(
        "--figure", metavar="FIGURE", action="append", help="a figure to show, as 'show --format json' calls it; again"
    )
    parser.add_argument("--below", metavar="VALUE", help="when the figure first fell below a value, and what did it")
    parser.add_argument("--above", metavar="VALUE", help="when the figure first rose above a value, and what did it")
    parser.add_argument("--since", metavar="DATE|REV", help="only versions from a day on, or after a commit")
    parser.add_argument("--first-parent", action="store_true", help="follow the first side of each merge only")
    parser.add_argument("-n", dest="most", metavar="N", help="only the newest N versions")
    parser.add_argument("--as-of", metavar="DATE", help="all prices as of one day (default: the day of each commit)")
    parser.add_argument("--format", choices=("text", "json", "csv", "markdown", "html"), default="text")
    workspace_args.option(parser)


@dataclass(frozen=True)
class _Asked:
    """What is asked of a history."""

    names: tuple[str, ...]
    charge: str | None
    line: Threshold | None
    as_of: datetime.date | None
    most: int | None
    since: str | None
    first_parent: bool


def run(args: argparse.Namespace) -> int:
    """Read the history, and show it."""
    asked = _asked(args)
    place, recipe, revision = _found(args)
    if place.repo is None:
        raise UserError("this workspace is in no git repository, so there is no history")
    past = versions(place.repo, place.folder, recipe, revision, first_parent=asked.first_parent)
    if args.format == "html" and not args.figure and not args.charge:
        asked = replace(asked, names=_of_claims(past))  # what a page draws is what the product promises
    with _approvals(place.repo, place.folder, past.commit) as approvals:
        sheet = _sheet(past, asked, place.repo, revision, approvals)
    import_module(f"formula_vcs.reports.log.{args.format}").write(sheet, out=sys.stdout)
    sys.stdout.flush()
    workspace_args.say_arming(place)
    return OK


def _of_claims(past: History) -> tuple[str, ...]:
    """Name cost, and the figures that the claims of the last version are judged by; without claims the usual ones."""
    latest = _latest(past)
    wanted = frozenset() if latest is None else claimed(latest)
    names = [name for name in FIGURES if name in wanted]
    return (DEFAULTS[0], *names[:_MOST_CLAIMED]) if names else DEFAULTS


def _latest(past: History) -> Formula | None:
    return next((version.formula for version in past.versions[::-1] if version.formula is not None), None)


def _marks(latest: Formula | None) -> dict[str, tuple[Fraction, str]]:
    """Give what content claims of a version ask of its figures, the tightest of each, with the claim in words."""
    found: dict[str, tuple[Fraction, str]] = {}
    for claim in () if latest is None else latest.recipe.claims:
        match = CONTENT.fullmatch(claim)
        if match is not None:
            name = match["index"].replace("-", "_") + ("_without_water" if match["dry"] else "")
            least = Fraction(match["least"])
            if name not in found or found[name][0] < least:
                found[name] = (least, f"claim: {claim}")
    return found


def _asked(args: argparse.Namespace) -> _Asked:
    names = tuple(dict.fromkeys(figure_name(name) for name in args.figure or ()))
    for name in names:
        if name not in FIGURES:
            raise UserError(f"no figure is called '{name}'{nearest(name, FIGURES) or _LISTED}")
    line = _line(args, names)
    most = None
    if args.most is not None:
        if not re.fullmatch(r"\d{1,9}", args.most):
            raise UserError(f"-n wants a number of versions, not '{args.most}'")
        most = int(args.most)
    as_of = workspace_args.day(args.as_of) if args.as_of else None
    shown = names or (() if args.charge else DEFAULTS)
    return _Asked(shown, args.charge, line, as_of, most, args.since, args.first_parent)


def _line(args: argparse.Namespace, names: Sequence[str]) -> Threshold | None:
    given = [(side, value) for side, value in (("below", args.below), ("above", args.above)) if value is not None]
    if not given:
        return None
    if len(given) > 1:
        raise UserError("--below and --above ask two questions; one at a time")
    side, text = given[0]
    if len(names) != 1:
        raise UserError(f"--{side} wants exactly one --figure")
    if args.charge:
        raise UserError(f"--{side} asks about the whole recipe; leave --charge out")
    number = re.fullmatch(r"\s*([+-]?\d{1,30}(?:\.\d{1,30})?)\s*%?\s*", text)
    if number is None:
        raise UserError(f"--{side} wants a number, like 95, not '{text}'")
    return Threshold(names[0], side == "below", Fraction(number[1]))


def _found(args: argparse.Namespace) -> tuple[workspace_args.WorkspaceRef, str, str]:
    """Find the recipe; one that is gone is known by its id in the history alone."""
    try:
        target = recipe_args.find(args.target, revision=args.rev, workspace=args.workspace, wanted=("recipe",))
    except UserError:
        asked = recipe_args.taken_apart(args.target, args.rev)
        revision = asked.revision or "HEAD"
        place = workspace_args.place(args.workspace, revision) if _known(args.workspace, revision) else None
        if place is None or place.repo is None or not _once(place, asked.name, revision):
            raise
        return place, asked.name, revision
    target.snapshot.source.close()
    if target.revision == "index":
        raise UserError("what is staged has no history; leave the ':' out")
    return target.place, target.id, "HEAD" if target.commit is None else target.revision


def _known(workspace: str | None, revision: str) -> bool:
    try:
        return len(workspace_args.places(workspace, revision)) == 1
    except UserError:
        return False


def _once(place: workspace_args.WorkspaceRef, recipe: str, revision: str) -> bool:
    """Say whether the history has a recipe of an id."""
    if place.repo is None:
        return False
    try:
        return bool(versions(place.repo, place.folder, recipe, revision).versions)
    except UserError:
        return False


@contextmanager
def _approvals(repo: repository.Repo, folder: str, commit: str) -> Iterator[Approvals | None]:
    """Open the approvals where the workspace knows any: else nothing is asked of git for them."""
    if not repository.tree_entries(repo, commit, f"{folder}/approvals" if folder else "approvals"):
        yield None
        return
    from formula_vcs.approvals import asking

    with asking.opened(repo, folder, commit) as found:
        yield found


def _approved(approvals: Approvals | None, version: Version) -> tuple[RoleStanding, ...]:
    if approvals is None or version.formula is None or not version.there:
        return ()
    try:
        return approvals.approved_by(version.formula)
    except UserError:  # no ssh-keygen can tell; `show --approvals` says so
        return ()


def _sheet(past: History, asked: _Asked, repo: repository.Repo, revision: str, approvals: Approvals | None) -> LogSheet:
    terms = terms_at(asked.as_of)
    chosen = _chosen(past, asked)
    inside = _since(chosen, asked.since, repo, past.commit)
    left_out = len(chosen) - len(inside)
    if asked.most is not None and asked.most < len(inside):
        left_out += len(inside) - asked.most
        inside = inside[len(inside) - asked.most :]
    when = None if asked.line is None else _when(past, [version for version, _ in inside], asked.line, terms)
    rows = tuple(
        row(version, stop, asked.names, terms, asked.charge, _approved(approvals, version)) for version, stop in inside
    )
    latest = _latest(past)
    return LogSheet(
        past.recipe, past.recipe if latest is None else latest.recipe.title, revision, past.commit, rows, asked.names,
        asked.charge, None if asked.as_of is None else asked.as_of.isoformat(), past.cut, asked.first_parent, left_out,
        when, _marks(latest),
    )  # fmt: skip


_Chosen = list[tuple[Version, TrailStop]]


def _chosen(past: History, asked: _Asked) -> _Chosen:
    if asked.charge is None:
        return [(version, TrailStop(version.changes, ())) for version in past.versions]
    name = asked.charge.rpartition("/")[2]
    found = trail(past.versions[::-1], name)
    if not found:
        known = dict.fromkeys(
            used for version in past.versions if version.formula is not None for used in version.formula.recipe.uses
        )
        raise UserError(f"no version of '{past.recipe}' holds '{name}'{nearest(name, known)}")
    return [(version, found[id(version)]) for version in past.versions if id(version) in found]


def _since(chosen: _Chosen, since: str | None, repo: repository.Repo, tip: str) -> _Chosen:
    """Leave out what is older than a day, or what a revision has already."""
    if since is None:
        return chosen
    if _DATE.fullmatch(since):
        first = workspace_args.day(since).isoformat()
        return [item for item in chosen if item[0].commit.day >= first]
    try:
        after = repository.resolve(repo, since)
    except UserError as error:
        raise UserError(f"--since wants a day, like 2026-01-31, or a revision: {error}") from None
    fresh = commit_log.reachable(repo, tip, after)
    return [item for item in chosen if item[0].commit.oid in fresh]


def _when(past: History, inside: Sequence[Version], line: Threshold, terms: TermsAt) -> When:
    found = tuple(crossings(inside, line, terms))
    tip = past.tip
    if tip is None or tip.formula is None or not tip.there:
        return When(line, found, None)
    return When(line, found, figure_of(tip.formula, line.figure, terms(tip)))

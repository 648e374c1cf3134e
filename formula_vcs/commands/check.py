"""``git formula check``: judge the workspace as it lies here, as it is staged, or as it was."""

from __future__ import annotations

import datetime
import sys
from collections.abc import Iterator
from contextlib import AbstractContextManager, nullcontext
from pathlib import Path
from types import SimpleNamespace
from typing import TYPE_CHECKING, Final, NamedTuple, cast

from formula_vcs.commands import workspace_args
from formula_vcs.commands.progress import Ticker
from formula_vcs.errors import BLOCKED, OK, UserError
from formula_vcs.evidence.judge_workspace import judge_workspace
from formula_vcs.git import repository
from formula_vcs.law.not_judged import open_fields
from formula_vcs.model.finding import Finding, blocks, worst_first
from formula_vcs.model.values import replace
from formula_vcs.reports import formats
from formula_vcs.review.finding_moves import sorted_out
from formula_vcs.workspace import glance
from formula_vcs.workspace.snapshot import RECORDS, WORKSPACE_FILE, Snapshot, kind_of
from formula_vcs.workspace.verdict_store import VerdictStore, verdicts_of

if TYPE_CHECKING:
    import argparse


def arguments(parser: argparse.ArgumentParser) -> None:
    """Declare what can be typed."""
    parser.add_argument("paths", nargs="*", metavar="PATH", help="only what is said about these files or folders")
    moment = parser.add_mutually_exclusive_group()
    moment.add_argument("--staged", action="store_true", help="check what is staged for the next commit")
    moment.add_argument("--rev", metavar="REV", help="check a commit")
    moment.add_argument("--merge", nargs=2, metavar=("A", "B"), help="check what a merge of two commits would make")
    parser.add_argument(
        "--guard",
        choices=("block", "warn"),
        help="with --merge: say what loosens A's judgement, and how bad that is; approved, it is a warning",
    )
    parser.add_argument("--as-of", metavar="DATE", help="judge as of a day (default: today)")
    parser.add_argument("--horizon", metavar="SPAN", help="say what will stop complying within 24m or 2y, and when")
    parser.add_argument("--fail-on", choices=("block", "warn", "note", "never"), default="block")
    parser.add_argument("--format", choices=(*formats.EVERY, *workspace_args.HOSTS), default="text")
    parser.add_argument(
        "--hook", action="store_true", help="called by a hook: say what refuses the commit or comes with it"
    )
    parser.add_argument("--how", action="store_true", help="below each finding that can be accepted, the lines for it")
    parser.add_argument("--no-cache", action="store_true", help="judge everything; use and keep no earlier verdict")
    parser.add_argument("--explain", metavar="RULE", help="print what a rule wants and why, and stop")
    workspace_args.option(parser)


def run_as_a_hook() -> int:
    """Check what is staged, as hooks call it at each commit."""
    with repository.one_moment():
        status = run(cast("argparse.Namespace", SimpleNamespace(**AS_A_HOOK)))
    sys.stdout.flush()
    return status


AS_A_HOOK: Final = {
    "paths": [], "staged": True, "rev": None, "merge": None, "as_of": None, "horizon": None, "fail_on": "block",
    "format": "text", "hook": True, "how": False, "no_cache": False, "explain": None, "workspace": None, "guard": None,
}  # fmt: skip


def run(args: argparse.Namespace) -> int:
    """Check, report, and say by the exit status whether something blocks."""
    if args.explain:
        return _explain(args.explain)
    day = workspace_args.terms(args.as_of).day
    if args.merge:
        return _merge(args, day)
    if args.guard:
        raise UserError("--guard judges a change: with --merge A B here, or 'git formula review --guard'")
    places = _places(args)
    if args.horizon:
        return _horizon(args, places, day)
    findings: list[Finding] = []
    recipes = older = 0
    products: list[tuple[str, tuple[str, ...]]] = []
    before = glance.state() if _plain_hook(args) else ""
    judged = _Judged(0, [])
    for place in places:
        paths = workspace_args.words_for(place, places, args.paths)
        if paths is not None:
            judged = _of_place(place, paths, args, day)
            recipes += judged.recipes
            older += judged.older
            products += judged.products
            findings += judged.findings
    findings.sort(key=worst_first)
    blocked = blocks(findings, args.fail_on)
    if not (args.hook and not findings):
        _write(args, findings, blocked=blocked, recipes=recipes, not_judged=open_fields(products))
    if older and args.format == "text":
        print(glance.older_words(older))
    if before and not findings and len(places) == 1 and before == glance.state():
        judged.remember(before)
    if not args.hook:
        workspace_args.say_arming(*places)
    return BLOCKED if blocked else OK


class _Judged(NamedTuple):
    """One workspace judged: its recipes counted, what is said, what a hook leaves out, and where recipes are sold."""

    recipes: int
    findings: list[Finding]
    older: int = 0
    products: tuple[tuple[str, tuple[str, ...]], ...] = ()
    store: VerdictStore | None = None

    def remember(self, state: str) -> None:
        """Let the next hook know that there is nothing to say while all stays as it is."""
        if self.store is not None and self.store.stands:
            first, last = self.store.first.isoformat(), self.store.last.isoformat()
            self.store.keep_glance(glance.kept(state, first, last, self.older))


def _plain_hook(args: argparse.Namespace) -> bool:
    """Say whether this is a check as hooks call it, with nothing else."""
    others = (args.paths, args.as_of, args.how, args.no_cache, args.workspace)
    usual = args.format == "text" and args.fail_on == "block"
    return args.hook and args.staged and usual and not any(others)


def _of_commit(
    place: workspace_args.WorkspaceRef,
    findings: list[Finding],
    day: datetime.date,
    fail_on: str,
    store: VerdictStore | None,
) -> tuple[list[Finding], int]:
    """Keep what refuses a commit and what it brings or worsens; count the warnings that were there before.

    At every commit the same notes and warnings would hide the one line that matters.
    """
    refusing = [finding for finding in findings if blocks([finding], fail_on)]
    others = [finding for finding in findings if finding.severity != "note" and not blocks([finding], fail_on)]
    if not others or place.repo is None or not repository.has_commits(place.repo):
        return [*refusing, *others], 0
    # only what has warnings now is judged as it was
    recipes = {finding.recipe for finding in others if finding.recipe is not None}
    records = any(kind_of(finding.file) in RECORDS for finding in others)
    with place.revision("HEAD") as before:
        found = judge_workspace(before, day, place.repo, recipes=recipes, records=records, store=store)
        was = list(found) if before.exists else []
    fresh = sorted_out(was, others).fresh
    return [*refusing, *fresh], len(others) - len(fresh)


def _of_place(
    place: workspace_args.WorkspaceRef, paths: list[str], args: argparse.Namespace, day: datetime.date
) -> _Judged:
    with _snapshot(place, args) as snapshot, _remembered(place, args) as store:
        if not snapshot.exists:
            if args.hook:
                _left_behind(place, snapshot)
                return _Judged(0, [])
            raise UserError(f"no {WORKSPACE_FILE} in {place.shown('.')} ({snapshot.label})")
        _know(snapshot, paths)
        older = 0
        found = [
            finding
            for finding in _judged(snapshot, day, place.repo, store)
            if not paths or any(_inside(finding.file, path) for path in paths)
        ]
        if args.hook:
            found, older = _of_commit(place, found, day, args.fail_on, store)
            found += _guarded(place, snapshot, day)
        products = () if args.hook else tuple(_products(snapshot, paths))
        shown = [replace(one, shown=_file(place, one.file, args)) for one in map(snapshot.place, found)]
        return _Judged(_recipes_of(snapshot, paths), shown, older, products, store)


def _guarded(place: workspace_args.WorkspaceRef, snapshot: Snapshot, day: datetime.date) -> Iterator[Finding]:
    """Warn of what a commit makes milder or blinder than HEAD has it."""
    if place.repo is None or not repository.has_commits(place.repo):
        return
    with place.revision("HEAD") as before:
        if before.listing == snapshot.listing or not before.exists:
            return
        from formula_vcs.review.guard import guard

        yield from (one.finding() for one in guard(before, snapshot, day))


def _merge(args: argparse.Namespace, day: datetime.date) -> int:
    """Judge a merge that is not made."""
    from formula_vcs.commands.check_merge import judged

    if args.horizon or args.hook:
        raise UserError("--merge judges one merge on one day; --horizon and --hook do not go with it")
    findings: list[Finding] = []
    recipes = 0
    for one in judged(args, day):
        paths = [one.place.in_workspace(path) for path in args.paths]
        recipes += one.recipes
        folder = f"{one.place.folder}/" if one.place.folder else ""
        findings += [
            replace(finding, shown=f"{folder}{finding.file}")
            for finding in one.findings
            if not paths or any(_inside(finding.file, path) for path in paths)
        ]
    findings.sort(key=worst_first)
    blocked = blocks(findings, args.fail_on)
    _write(args, findings, blocked=blocked, recipes=recipes)
    return BLOCKED if blocked else OK


def _write(
    args: argparse.Namespace,
    findings: list[Finding],
    *,
    blocked: bool,
    recipes: int,
    not_judged: tuple[str, ...] = (),
) -> None:
    """Write the findings, with the lines that accept them where they are asked for; json always has them."""
    if args.format not in workspace_args.HOSTS:
        from formula_vcs.reports import check

        formats.write(
            check.REPORT, check.CheckShown(findings, blocked, recipes, not_judged, args.how), args.format, sys.stdout
        )
        return
    if args.how:
        words = f"--how writes below findings, and {args.format} has no place there; use text, json, markdown or html"
        raise UserError(words)
    from formula_vcs.reports.hosts import remarks

    remarks.write(args.format, remarks.of_check(findings), "check", blocked=blocked, out=sys.stdout)


def _products(snapshot: Snapshot, paths: list[str]) -> Iterator[tuple[str, tuple[str, ...]]]:
    """Give the products that are judged, premixes aside, each with its markets."""
    general = snapshot.workspace.names["markets"]
    for recipe in snapshot.recipes():
        if not recipe.is_premix and (not paths or any(_inside(recipe.file, path) for path in paths)):
            yield recipe.id, recipe.names["markets"] or general


def _horizon(args: argparse.Namespace, places: list[workspace_args.WorkspaceRef], day: datetime.date) -> int:
    """Look ahead instead of judging the day; blocked where something blocks in time."""
    from formula_vcs.commands.horizon import ahead, months
    from formula_vcs.reports import horizon
    from formula_vcs.rules.horizon import later

    if args.format in workspace_args.HOSTS:
        raise UserError(
            f"--horizon looks at days to come, and {args.format} has no place for them; use {', '.join(formats.EVERY)}"
        )
    count = months(args.horizon)
    found = []
    recipes = 0
    for place in places:
        paths = workspace_args.words_for(place, places, args.paths)
        if paths is None:
            continue
        with _snapshot(place, args) as snapshot:
            if not snapshot.exists:
                raise UserError(f"no {WORKSPACE_FILE} in {place.shown('.')} ({snapshot.label})")
            _know(snapshot, paths)
            only = [path for path in snapshot.listing if any(_inside(path, wanted) for wanted in paths)]
            recipes += _recipes_of(snapshot, paths)
            for turn in ahead(snapshot, day, count, only):
                finding = replace(turn.finding, shown=_file(place, turn.finding.file, args))
                found.append((turn.day, finding, turn.sold))
    found.sort(key=lambda turn: (turn[0], worst_first(turn[1])))
    shown = horizon.HorizonShown(found, later(day, count), recipes)
    formats.write(horizon.REPORT, shown, args.format, sys.stdout)
    return BLOCKED if blocks([finding for _, finding, _ in found], args.fail_on) else OK


def _places(args: argparse.Namespace) -> list[workspace_args.WorkspaceRef]:
    found: dict[Path, workspace_args.WorkspaceRef] = {}
    # a hook also looks at what the commit takes away; the first commit has nothing before it
    for revision in (args.rev, "HEAD") if args.hook else (args.rev,):
        try:
            here = workspace_args.places(args.workspace, revision, staged=args.staged and revision is None, every=True)
        except UserError as error:
            # a hook runs at every commit of a repository, also before its first workspace
            if args.hook and (revision == "HEAD" or WORKSPACE_FILE in str(error)):
                continue
            raise
        found.update({place.root: place for place in here})
    return list(found.values())


def _left_behind(place: workspace_args.WorkspaceRef, snapshot: Snapshot) -> None:
    """Refuse a commit that takes the workspace file away from under others of its files: nothing would check them."""
    if place.repo is None or not repository.has_commits(place.repo):
        return
    with place.revision("HEAD") as before:
        left = next((path for path in before.listing if path in snapshot.listing), None) if before.exists else None
    if left is not None:
        raise UserError(f"{WORKSPACE_FILE} goes with this commit and {left} stays: remove both, or keep both")


def _snapshot(place: workspace_args.WorkspaceRef, args: argparse.Namespace) -> Snapshot:
    if args.staged:
        return place.index()
    return place.revision(args.rev) if args.rev else place.work_tree()


def _know(snapshot: Snapshot, paths: list[str]) -> None:
    for path in paths:
        if path != "." and not any(_inside(known, path) for known in snapshot.listing):
            raise UserError(f"'{path}' is no file of the workspace ({snapshot.label})")


def _recipes_of(snapshot: Snapshot, paths: list[str]) -> int:
    """Count the recipes that are judged: all, or those among the paths."""
    if not paths:
        return len(snapshot.ids("recipe"))
    chosen = (path for path in snapshot.listing if any(_inside(path, wanted) for wanted in paths))
    return sum(kind_of(path) == "recipe" for path in chosen)


def _inside(file: str, path: str) -> bool:
    return path in (".", file) or file.startswith(f"{path.rstrip('/')}/")


def _file(place: workspace_args.WorkspaceRef, path: str, args: argparse.Namespace) -> str:
    if args.staged or args.rev or (args.format in workspace_args.HOSTS and place.repo is not None):
        return f"{place.folder}/{path}" if place.folder else path
    return place.shown(path)


def _judged(
    snapshot: Snapshot, day: datetime.date, repo: repository.Repo | None, store: VerdictStore | None
) -> Iterator[Finding]:
    """Judge a workspace, and say on a terminal how far that is."""
    with Ticker("checking") as ticking:
        yield from judge_workspace(snapshot, day, repo, ticking, store=store)


def _remembered(
    place: workspace_args.WorkspaceRef, args: argparse.Namespace
) -> AbstractContextManager[VerdictStore | None]:
    """Open what this clone remembers of earlier checks."""
    return (None if args.no_cache else verdicts_of(place.repo)) or nullcontext()


def _explain(rule: str) -> int:
    import inspect

    from formula_vcs.reports.rule_page import rule_page
    from formula_vcs.rules.registry import RULES
    from formula_vcs.toml.takers import nearest

    found = RULES.get(rule)
    if found is None:
        raise UserError(f"no rule is called '{rule}'{nearest(rule, RULES) or '; known: ' + ', '.join(RULES)}")
    page = rule_page(inspect.cleandoc(found.__doc__ or ""))
    accepts = "can be accepted in the recipe" if found.acceptable else "cannot be accepted, it has to be mended"
    lines = f'\n\nTo accept one finding (check --how fills it in):\n    [[accept]]\n    rule  = "{found.id}"\n'
    lines += '    about = "..."\n    why   = "..."'
    print(f"{found.id} ({found.severity}; {accepts})\n\n{page}\n\n{rule_page(f'Source: {found.source}')}", end="")
    print(lines if found.acceptable else "")
    return OK

"""Which two moments a comparison is about, and which recipes of them, from the words that a person typed.

Words before ``--`` are taken as git takes them: revisions as long as they name one, then paths.  A path is a file or
folder of the workspace, or a recipe's id; ``recipe:ID`` is a recipe whatever else has that name.
"""

from __future__ import annotations

import argparse
import datetime
import os
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import ExitStack
from pathlib import Path
from typing import Final

from formula_vcs import __version__
from formula_vcs.commands import workspace_args
from formula_vcs.commands.approved_guard import approved, approved_loosenings
from formula_vcs.commands.progress import Ticker
from formula_vcs.commands.subsets import Opened, narrowed
from formula_vcs.errors import UserError
from formula_vcs.evidence.pinned_versions import PinnedVersions
from formula_vcs.figures.figure import Terms
from formula_vcs.figures.figure_table import FIGURES, figure_name
from formula_vcs.git import repository
from formula_vcs.git.patch import FileChange
from formula_vcs.model.finding import Finding, Severity
from formula_vcs.model.values import dataclass, field, replace
from formula_vcs.review.compare import Comparison, Review, compare
from formula_vcs.review.figure_weight import ALL, asked_for
from formula_vcs.words.late_pattern import late_pattern
from formula_vcs.workspace.snapshot import (
    WORKSPACE_FILE,
    Files,
    Refused,
    Snapshot,
    Source,
    kind_of,
    no_workspace,
)

FORMATS: Final = ("text", "json", "markdown", "html")


@dataclass(frozen=True, slots=True)
class ComparedRevision:
    """One side of a comparison: a ``commit``, the "index", the "work tree", or "nothing" before the first commit."""

    kind: str
    label: str
    commit: str | None = None

    def snapshot(self, place: workspace_args.WorkspaceRef) -> Snapshot:
        """Open the workspace at this moment."""
        if self.kind == "nothing":
            return Snapshot(Files({}, self.label), place.store)
        if self.kind == "index":
            return place.index()
        if self.commit is None:
            return place.work_tree()
        if place.repo is None:  # the files here in place of a commit would be compared with themselves
            raise UserError(f"{place.root} is not in the repository that '{self.label}' is a commit of")
        return place.commit(self.commit, self.label)


WORK_TREE: Final = ComparedRevision("work tree", "work tree")
INDEX: Final = ComparedRevision("index", "index")
NOTHING: Final = ComparedRevision("nothing", "nothing")
_AS_REVISION: Final = late_pattern(r"[~^]|@\{|^(?:HEAD|@)$")


@dataclass(frozen=True, slots=True)
class RevisionPair:
    """The old and the new moment, and what to call the way from one to the other."""

    old: ComparedRevision
    new: ComparedRevision
    title: str
    base: str = ""

    @property
    def believed(self) -> str:
        """Give the commit whose word about who may approve is taken: the branch that the change is for, empty if none.

        Of a change from a merge base it is that branch as it is now: it knows whose key was revoked since.
        """
        return self.base or self.old.commit or ""


@dataclass(frozen=True)
class ComparisonRequest:
    """A comparison as a command was asked for it; ``evidence`` says whether the new side records any.

    ``files`` are what taking only some of the changes makes of the old side's files; ``named`` are the recipes that
    were asked for by name.
    """

    comparison: Comparison
    title: str
    places: list[workspace_args.WorkspaceRef] = field(default_factory=list)
    evidence: bool = False
    files: tuple[FileChange, ...] = ()
    named: tuple[str, ...] = ()


def arguments(parser: argparse.ArgumentParser, formats: Sequence[str] = FORMATS) -> None:
    """Declare what diff and review have in common."""
    parser.add_argument(
        "words",
        nargs="*",
        metavar="REV|RANGE|RECIPE|PATH",
        help="A..B, A...B (from their merge base), a revision; then recipes or files, after '--' where unclear",
    )
    parser.add_argument("--staged", "--cached", action="store_true", help="compare with what is staged for a commit")
    parser.add_argument("--format", choices=formats, default="text", help="json keeps to reports/schemas/diff.json")
    parser.add_argument("--as-of", metavar="DATE", help="prices and accepted findings as of a day (default: today)")
    words = "also list this figure, whoever asked for it; 'all' lists every one that moves"
    parser.add_argument("--figure", metavar="FIGURE", action="append", default=[], help=words)
    parser.set_defaults(after=(), dashes=False, only=[], without=[], guard="warn")
    workspace_args.option(parser)


def asked(args: argparse.Namespace, *, review: bool) -> ComparisonRequest:
    """Compare what the words name; ``review`` says that a revision alone means from its merge base to HEAD."""
    terms = workspace_args.terms(args.as_of)
    args.figure = [figure_name(name) for name in args.figure]
    known_figures(args.figure)
    repo = repository.open_repo(Path.cwd() / (args.workspace or ""))
    revisions, paths = _sorted(repo, args.words, args.after, dashes=args.dashes)
    sides = _review_sides(repo, revisions, staged=args.staged) if review else None
    sides = sides or _sides(repo, revisions, staged=args.staged)
    typed = [] if args.dashes else revisions
    unknown = set(paths)
    from_here = sides.new.kind == "work tree" and args.format not in workspace_args.HOSTS
    places = _of_repository(repo, _places(args.workspace, sides))
    with ExitStack() as stack:
        opened: list[Opened] = []
        used: list[workspace_args.WorkspaceRef] = []
        for place in places:
            old, new = (stack.enter_context(side.snapshot(place)) for side in (sides.old, sides.new))
            if not old.exists and not new.exists:
                continue
            _unambiguous(typed, old, new)
            chosen = _chosen(place, old, new, paths)
            unknown -= chosen.known
            used.append(place)
            if chosen.known or not paths:
                opened.append(Opened(place, old, chosen.narrowed(old, new), chosen.recipes))
        if not used and not any((place.root / WORKSPACE_FILE).is_file() for place in places):
            raise no_workspace(f"{sides.old.label} or {sides.new.label}")
        if unknown:
            raise _unknown(repo, min(unknown), used, sides, dashes=args.dashes)
        part = narrowed(opened, args, sides.old.commit, terms) if args.only or args.without else None
        # the text of a diff only counts new findings; a review, and data for others, say why
        why = review or args.format != "text"
        found = [
            _compared(one, terms, sides, from_here=from_here, why=why, guard=args.guard)
            for one in (opened if part is None else part.opened)
        ]
        evidence = any(one.new.ids("evidence") for one in opened)
    joined = _with_figures(_joined(found, sides), args.figure)
    joined = replace(joined, made=_made(repo, sides, terms.day))
    if part is None:
        named = tuple(path for path in paths if any(path in one.recipes for one in opened if one.recipes))
        return ComparisonRequest(joined, sides.title, used, evidence, named=named)
    return ComparisonRequest(
        replace(joined, part=part.part), f"{sides.title}, {part.words}", used, evidence, part.files
    )


def _made(repo: repository.Repo, sides: RevisionPair, day: datetime.date) -> str:
    """Say which versions are compared, of whom and when, by which day's law and prices, and by what."""
    new = _moment(repo, sides.new)
    old = sides.old.commit or ""
    against = f"against {repository.short_id(old) if old else sides.old.label}"
    return f"{new}, {against}; law and prices of {day}; made by git-formula {__version__}"


def _moment(repo: repository.Repo, side: ComparedRevision) -> str:
    if side.commit is None:
        return f"{side.label}, not committed"
    line = repository.log_line(repo, side.commit)
    return f"{side.label} {line.short} by {line.author}, {line.date}"


def known_figures(names: Sequence[str]) -> None:
    """Refuse a figure that there is not.

    :raises UserError: there is none of that name.
    """
    from formula_vcs.toml.takers import nearest

    for name in names:
        if name != ALL and name not in FIGURES:
            hint = nearest(name, FIGURES) or f"; known: {ALL}, {', '.join(FIGURES)}"
            raise UserError(f"no figure is called '{name}'{hint}")


def _with_figures(comparison: Comparison, names: Sequence[str]) -> Comparison:
    """List the figures that were asked for by name."""
    if not names:
        return comparison
    reviews = (replace(review, listed=asked_for(review.listed, names)) for review in comparison.reviews)
    return replace(comparison, reviews=tuple(reviews))


# Words to revisions and paths


def _sorted(
    repo: repository.Repo, words: Sequence[str], after: Sequence[str], *, dashes: bool
) -> tuple[list[str], list[str]]:
    """Give the revisions and the paths among the words."""
    revisions: list[str] = []
    for position, word in enumerate(words):
        if not dashes and not _is_revision(repo, word):
            return revisions, list(words[position:])
        revisions.append(word)
    return revisions, list(after)


def _is_revision(repo: repository.Repo, word: str) -> bool:
    """Say whether a word can only be meant as a revision or range, or is one; a range that is wrong is still one."""
    if word.startswith(("recipe:", "ingredient:")):
        return False
    left, right, dots = repository.split_range(word)
    if dots and not Path(word).exists():
        _known_range(repo, left, right or "HEAD")
        return True
    try:
        repository.resolve(repo, word)
    except UserError as error:
        # no recipe and hardly a file has such a name, so git's own words say more
        if not Path(word).exists() and ("more than one object" in str(error) or _AS_REVISION.search(word)):
            raise
        return False
    if Path(word).exists():
        raise UserError(f"'{word}' is both a revision and a file; write '{word} --' or '-- {word}'")
    return True


def _known_range(repo: repository.Repo, *revisions: str) -> None:
    for revision in revisions:
        repository.resolve(repo, revision)


def _unambiguous(typed: Sequence[str], old: Snapshot, new: Snapshot) -> None:
    for word in typed:
        if word in old.ids("recipe") or word in new.ids("recipe"):
            raise UserError(f"'{word}' is both a revision and a recipe; write '{word} --' or 'recipe:{word}'")


def _unknown(
    repo: repository.Repo,
    word: str,
    places: Sequence[workspace_args.WorkspaceRef],
    sides: RevisionPair,
    *,
    dashes: bool,
) -> UserError:
    """Word that a word names nothing, with what is near to it, or what the clone lacks to know it."""
    from formula_vcs.toml.takers import nearest

    names: list[str] = []
    for place in places:
        with sides.old.snapshot(place) as old, sides.new.snapshot(place) as new:
            names += [*old.ids("recipe"), *new.ids("recipe")]
    near = nearest(word.removeprefix("recipe:").removeprefix("ingredient:"), names)
    what = "no recipe or file" if dashes else "no revision, and no recipe or file"
    hint = f"; {repository.SHALLOW}" if not (near or dashes) and repository.is_shallow(repo) else ""
    return UserError(f"'{word}' is {what} of the workspace in {sides.title}{near}{hint}")


# Revisions to moments


def _sides(repo: repository.Repo, revisions: Sequence[str], *, staged: bool) -> RevisionPair:
    """Give the sides of a diff: HEAD, or the revision, against the files as they lie here or are staged."""
    if len(revisions) > 2:
        raise UserError(f"a comparison has two sides, and {len(revisions)} revisions are given")
    if len(revisions) == 2:
        return _range(repo, revisions[0], revisions[1], "..")
    left, right, dots = repository.split_range(revisions[0]) if revisions else ("HEAD", None, "")
    if dots:
        if staged:
            raise UserError("--staged compares one revision with the index; a range has two sides already")
        return _range(repo, left, right or "HEAD", dots)
    if repo.top is None:
        raise UserError("this repository is bare: nothing is staged or lies in files; name two revisions (A..B)")
    new = INDEX if staged else WORK_TREE
    if not revisions and not repository.has_commits(repo):
        return RevisionPair(NOTHING, new, f"nothing (no commits yet) \u2192 {new.label}")
    return _way(_commit(repo, left), new)


def _review_sides(repo: repository.Repo, revisions: Sequence[str], *, staged: bool) -> RevisionPair | None:
    """Give the sides of a review where they are not those of a diff: what a pull request means."""
    if staged or len(revisions) > 1:
        return None
    if revisions:
        left, right, dots = repository.split_range(revisions[0])
        return None if dots else _range(repo, left, right or "HEAD", "...")
    if not repository.has_commits(repo):
        return None
    default = repository.default_ref(repo)
    if default is None and repository.read_config(repo, "remote.origin.url") is not None:
        # a clone of one branch, as many CI jobs make it: to compare with the work tree would pass everything
        raise UserError("this clone has no default branch to compare with; name one: git formula review REV")
    if default is None or repository.head_branch_is_default(repo):
        return None
    return _range(repo, default, "HEAD", "...", repository.default_branch(repo))


def _range(repo: repository.Repo, left: str, right: str, dots: str, called: str | None = None) -> RevisionPair:
    """Give the sides of a range; ``called`` is what people call the left one, where it is not what they typed."""
    new = _commit(repo, right)
    if dots == "..":
        return _way(_commit(repo, left), new)
    base = repository.merge_base(repo, left, right)
    title = f"{called or left}...{right}, from their merge base {repository.short_id(base)}"
    old = ComparedRevision("commit", repository.short_id(base), base)
    return RevisionPair(old, new, title, repository.resolve(repo, left))


def _way(old: ComparedRevision, new: ComparedRevision) -> RevisionPair:
    return RevisionPair(old, new, f"{old.label} \u2192 {new.label}")


def _commit(repo: repository.Repo, revision: str) -> ComparedRevision:
    return ComparedRevision("commit", revision, repository.resolve(repo, revision))


# Places and what of them


def _places(chosen: str | None, sides: RevisionPair) -> list[workspace_args.WorkspaceRef]:
    """Find the workspaces of both sides: a commit can bring or remove one."""
    found: dict[Path, workspace_args.WorkspaceRef] = {}
    missing: UserError | None = None
    for side in (sides.new, sides.old):
        try:
            here = workspace_args.places(chosen, side.commit, staged=side.kind == "index", every=True)
        except UserError as error:
            missing = error
            continue
        found.update({place.root: place for place in here})
    if not found and missing is not None:
        raise missing
    return list(found.values())


def _of_repository(
    repo: repository.Repo, places: list[workspace_args.WorkspaceRef]
) -> list[workspace_args.WorkspaceRef]:
    """Leave out the workspaces of submodules and of clones in the clone: its revisions say nothing about them."""
    own = [place for place in places if place.repo is None or place.repo.git_dir == repo.git_dir]
    if not own:
        raise UserError(f"{places[0].shown('.')} belongs to another repository, a submodule or clone: ask in there")
    return own


@dataclass
class _Chosen:
    """What the paths name in one workspace: recipes, or files whose change alone is wanted."""

    recipes: tuple[str, ...] = ()
    files: tuple[str, ...] = ()
    known: set[str] = field(default_factory=set)

    def narrowed(self, old: Snapshot, new: Snapshot) -> Snapshot:
        """Give the new side, with nothing but the chosen files changed where files are chosen."""
        return Snapshot(_Only(old.source, new.source, frozenset(self.files)), new.store) if self.files else new


class _Only:
    """A source that is the old one but for some files, which are as the new one has them."""

    def __init__(self, old: Source, new: Source, files: frozenset[str]) -> None:
        self.label = new.label
        self._old = old
        self._new = new
        self._files = files

    def folder(self) -> str:
        return self._new.folder()

    def close(self) -> None:
        """Leave both sources to those who opened them."""

    def listing(self) -> Mapping[str, str]:
        before, after = self._old.listing(), self._new.listing()
        names = {path: name for path, name in before.items() if path not in self._files}
        return dict(sorted({**names, **{path: after[path] for path in self._files if path in after}}.items()))

    def unlisted(self) -> Mapping[str, str]:
        return self._new.unlisted()

    def name(self, path: str) -> str:
        return (self._new if path in self._files else self._old).name(path)

    def read(self, path: str) -> bytes | Refused:
        return (self._new if path in self._files else self._old).read(path)


def _chosen(place: workspace_args.WorkspaceRef, old: Snapshot, new: Snapshot, words: Sequence[str]) -> _Chosen:
    recipes: dict[str, None] = {}
    files: dict[str, None] = {}
    known: set[str] = set()
    whole = False
    for word in words:
        named = list(_named(place, old, new, word))
        if not named:
            continue
        known.add(word)
        whole = whole or "" in named
        for path in named:
            if kind_of(path) == "recipe":
                recipes[path.rsplit("/", 1)[-1].removesuffix(".toml")] = None
            files[path] = None
    if whole or not known:
        return _Chosen(known=known)
    if any(kind_of(path) != "recipe" for path in files):
        return _Chosen(files=tuple(files), known=known)
    return _Chosen(recipes=tuple(recipes), known=known)


def _named(place: workspace_args.WorkspaceRef, old: Snapshot, new: Snapshot, word: str) -> Iterator[str]:
    """Give the files of either side that a word names; an empty path is the whole workspace."""
    kind, _, name = word.rpartition(":")
    shelves = {"recipe": ("recipe",), "ingredient": ("ingredients",)}.get(kind)
    if kind and shelves is None:
        return
    for shelf in shelves or ("recipe",):
        paths = {side.ids(shelf)[name] for side in (old, new) if name in side.ids(shelf)}
        if paths or shelves is not None:
            yield from sorted(paths)
            return
    typed = Path(os.path.normpath(Path.cwd() / word))
    if place.root.is_relative_to(typed):
        yield ""
        return
    try:
        inside = place.in_workspace(word)
    except UserError:
        return
    for path in sorted({*old.listing, *new.listing}):
        if path == inside or path.startswith(f"{inside.rstrip('/')}/"):
            yield path


# The comparison, as it is shown from here


def _compared(one: Opened, terms: Terms, sides: RevisionPair, *, from_here: bool, why: bool, guard: str) -> Comparison:
    place = one.place
    with Ticker("comparing") as ticking, PinnedVersions(place.repo, place.folder, store=place.store) as pins:
        found = compare(one.old, one.new, terms, one.recipes, ticking, why=why, pins=pins if why else None)

    def shown(path: str) -> str:
        if from_here:
            return place.shown(path)
        return f"{place.folder}/{path}" if place.folder else path

    severity: Severity = "block" if guard == "block" else "warn"
    passing = approved_loosenings(one, found, sides.believed, sides.new.commit or "")
    guarded = [approved(finding, words, severity) for finding, words in zip(found.guarded, passing, strict=True)]
    return replace(
        found,
        reviews=tuple(_shown(review, shown) for review in found.reviews),
        guarded=tuple(replace(finding, shown=shown(finding.file)) for finding in guarded),
    )


def _shown(review: Review, shown: Callable[[str], str]) -> Review:
    def at(finding: Finding) -> Finding:
        return replace(finding, shown=shown(finding.file))

    return replace(
        review,
        file=shown(review.file),
        new=tuple(replace(item, finding=at(item.finding)) for item in review.new),
        gone=tuple(map(at, review.gone)),
        still=tuple(map(at, review.still)),
    )


def _joined(found: Sequence[Comparison], sides: RevisionPair) -> Comparison:
    """Make one comparison of those of all workspaces here."""
    return Comparison(
        sides.old.label,
        sides.new.label,
        tuple(review for one in found for review in one.reviews),
        tuple(change for one in found for change in one.beside),
        tuple(path for one in found for path in one.touched),
        sum(one.same for one in found),
        not_judged=tuple(dict.fromkeys(field for one in found for field in one.not_judged)),
        guard=tuple(item for one in found for item in one.guard),
        guarded=tuple(item for one in found for item in one.guarded),
    )

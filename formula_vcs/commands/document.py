"""``git formula document KIND RECIPE``: one version of a recipe as a document for the next desk."""

from __future__ import annotations

import argparse
import io
import os
import sys
from contextlib import ExitStack
from functools import partial
from importlib import import_module
from pathlib import Path
from typing import TYPE_CHECKING, Final

from formula_vcs import __version__
from formula_vcs.commands import recipe_args, workspace_args
from formula_vcs.commands.recipe_args import readable
from formula_vcs.errors import OK, UserError
from formula_vcs.evidence.pinned_versions import PinnedVersions
from formula_vcs.figures.breakdown import Breakdown
from formula_vcs.git import repository
from formula_vcs.law.compliance import compliance_of
from formula_vcs.model.content_hash import content_hash
from formula_vcs.model.facts import readable as readable_fact
from formula_vcs.model.formula import Formula
from formula_vcs.model.recipe import Recipe
from formula_vcs.model.values import replace
from formula_vcs.reports.document.blocks import Document as Papers
from formula_vcs.reports.papers import paper as papers
from formula_vcs.reports.papers.letterhead import Letterhead
from formula_vcs.reports.papers.logo import logo_at
from formula_vcs.reports.papers.paper import Paper, PaperVersion
from formula_vcs.toml.letterhead_file import LETTERHEAD_FILE, PAPER_KINDS, read_letterhead
from formula_vcs.words.escape import on_a_terminal
from formula_vcs.workspace.snapshot import Snapshot

if TYPE_CHECKING:
    from formula_vcs.model.evidence import Proof
    from formula_vcs.reports.papers.artwork import LastArtwork
    from formula_vcs.reports.papers.change_note import NoteSubject

_MOST: Final = 64 * 1024
# kind: the module of `reports.papers` that builds it
_MODULES: Final = {kind: kind.replace("-", "_") for kind in PAPER_KINDS} | {"ingredients": "artwork"}
_FORMATS: Final = ("text", "markdown", "html", "pdf", "docx")
_ENDINGS: Final = {".html": "html", ".htm": "html", ".pdf": "pdf", ".docx": "docx", ".md": "markdown", ".txt": "text"}
_BYTES: Final = ("pdf", "docx")


def arguments(parser: argparse.ArgumentParser) -> None:
    """Declare what can be typed."""
    parser.add_argument("kind", metavar="KIND", choices=PAPER_KINDS, help=f"what it says: {', '.join(PAPER_KINDS)}")
    parser.add_argument("target", metavar="RECIPE[@REV]", help="a recipe's id, or REV:PATH, or a path")
    parser.add_argument(
        "--since", metavar="REV", help="change-note: the version before; ingredients: the last artwork's"
    )
    parser.add_argument("--by", metavar="NAME", help="who asks for it (default: git's user.name)")
    parser.add_argument("--plain", action="store_true", help=f"without the house's words and logo of {LETTERHEAD_FILE}")
    parser.add_argument(
        "--format",
        choices=_FORMATS,
        help="how it is written (default: by the ending of -o, else text on a terminal and markdown elsewhere)",
    )
    parser.add_argument("-o", "--output", metavar="FILE", help="write it to a file; its ending says the format")
    recipe_args.arguments(parser, "recipe")


def run(args: argparse.Namespace) -> int:
    """Write the document."""
    if args.since and args.kind not in ("change-note", "ingredients"):
        raise UserError(f"'{args.kind}' takes no --since; a change-note and the list of ingredients do")
    if args.kind == "change-note" and not args.since:
        raise UserError("a change note says what changed since a version: --since REV")
    form = _form(args)
    terms = workspace_args.terms(args.as_of)
    target = recipe_args.find(args.target, revision=args.rev, workspace=args.workspace, wanted=("recipe",))
    with ExitStack() as open_until_written:
        open_until_written.enter_context(target.snapshot)
        formula = target.snapshot.formula(readable(target))
        sums = Breakdown(formula)
        asked_by = _asked_by(args, target)
        paper = Paper(
            args.kind, formula, sums, compliance_of(sums), terms, _version(target, formula),
            asked_by, f"git-formula {__version__}", Letterhead() if args.plain else letterhead(target.place.root),
        )  # fmt: skip
        builder = import_module(f"formula_vcs.reports.papers.{_MODULES[args.kind]}")
        build = builder.blocks
        if args.kind == "change-note":
            build = partial(builder.blocks, note=_note(args, target, paper))
        elif args.kind == "ingredients":
            build = partial(builder.blocks, last=_artwork(args, target, paper))
        _emit(args, _written(paper, papers.document(paper, builder.TITLE, build), form))
    workspace_args.say_arming(target.place)
    return OK


def _form(args: argparse.Namespace) -> str:
    named: str | None = args.format
    spoken = "text" if on_a_terminal(sys.stdout) else "markdown"
    form = named or (spoken if args.output in (None, "-") else _ENDINGS.get(Path(args.output).suffix.lower(), ""))
    if not form:
        raise UserError(f"'{args.output}': its ending says no format; name one with --format ({', '.join(_FORMATS)})")
    if form in _BYTES and args.output in (None, "-") and sys.stdout.isatty():
        raise UserError(f"a {form.upper()} is no text for a terminal: name a file, -o {args.kind}.{form}")
    return form


def _written(paper: Paper, document: Papers, form: str) -> bytes | str:
    from formula_vcs.reports.papers import render

    if form == "pdf":
        return render.pdf(paper, document)
    if form == "docx":
        return render.docx(paper, document)
    if form == "html":
        return render.page(paper, document)
    out = io.StringIO()
    import_module(f"formula_vcs.reports.document.{form}").write(document, out)
    return out.getvalue()


def _emit(args: argparse.Namespace, report: bytes | str) -> None:
    from formula_vcs.commands.batch_sheet import emit

    emit(report, args)
    sys.stdout.flush()


# --- which version


def _version(target: recipe_args.Target, formula: Formula) -> PaperVersion:
    """Say which version it is: that of the commit, or of HEAD where nothing that it rests on differs from it."""
    repo, commit = target.place.repo, target.commit
    content = content_hash(formula.recipe, formula.premixes)
    if repo is not None and commit is None and repository.has_commits(repo):
        head = repository.resolve(repo, "HEAD")
        with target.place.commit(head, "HEAD") as there:
            commit = head if _recipe_in(there, formula.recipe.id) == formula else None
    tags = () if repo is None or commit is None else tuple(repository.tags_at(repo, commit))
    version = PaperVersion(target.revision, commit, tags, content)
    if repo is None or commit is None:
        return version
    from formula_vcs.approvals.asking import standing_of
    from formula_vcs.model.approval import APPROVED
    from formula_vcs.reports.approvals.words import approval_lines

    standing = standing_of(repo, target.place.folder, commit, formula)
    if not standing.state:
        return replace(version, approval=f"{version.approval}, and the workspace asks for none")
    words = "; ".join(approval_lines(standing))
    return replace(version, approval=words, approved=standing.state == APPROVED)


def _recipe_in(there: Snapshot, name: str) -> Formula | None:
    path = there.ids("recipe").get(name)
    read = None if path is None else there.read(path)
    if path is None or read is None or not read.whole:
        return None
    return there.formula(Recipe(name, read.facts, path))


def _asked_by(args: argparse.Namespace, target: recipe_args.Target) -> str:
    if args.by:
        return str(args.by)
    repo = target.place.repo
    return "" if repo is None else repository.read_config(repo, "user.name") or ""


# --- what other versions say


def _artwork(args: argparse.Namespace, target: recipe_args.Target, paper: Paper) -> dict[str, LastArtwork]:
    """Find the last artwork on file, by market ("" is of all); or take the version that was named with --since."""
    from formula_vcs.reports.papers.artwork import LastArtwork
    from formula_vcs.reports.sheets import MARKETS, label_of

    recipe, found = paper.recipe.id, dict[str, LastArtwork]()
    if args.since:
        old = recipe_args.find(recipe, revision=args.since, workspace=args.workspace, wanted=("recipe",))
        with old.snapshot:
            sums = Breakdown(old.snapshot.formula(readable(old)))
            for market in MARKETS:
                found[market] = LastArtwork(f"{args.since}, commit {old.commit}", label_of(sums, market, paper.day))
        return found
    last: dict[str, Proof] = {}
    for proof in target.snapshot.proofs_of(recipe):
        known = last.get(proof.market)
        if proof.kind == "artwork" and (known is None or known.passed <= proof.passed):
            last[proof.market] = proof
    if not last:
        return found
    with PinnedVersions(target.place.repo, target.place.folder, store=target.place.store) as pins:
        for market in MARKETS:
            mine = [proof for name, proof in last.items() if name in ("", market)]
            if mine:
                newest = max(mine, key=lambda one: one.passed)
                formula = pins.at(newest.commit, newest.named).formula
                label = None if formula is None else label_of(Breakdown(formula), market, paper.day)
                what = f"{newest.report}, passed {newest.passed}, of commit {newest.commit[:12]}"
                found[market] = LastArtwork(what, label)
    return found


def _note(args: argparse.Namespace, target: recipe_args.Target, paper: Paper) -> NoteSubject:
    """Compare with the version that was named, and find the commits between."""
    from formula_vcs.history.versions import between
    from formula_vcs.reports.papers.change_note import NoteSubject, WhyChanged
    from formula_vcs.review.compare import compare

    place, recipe = target.place, paper.recipe.id
    if place.repo is None:
        raise UserError("a change note compares with an earlier version, and this workspace is in no git repository")
    since = repository.resolve(place.repo, args.since)
    with (
        place.commit(since, args.since) as old,
        PinnedVersions(place.repo, place.folder, store=place.store) as pins,
    ):
        found = compare(old, target.snapshot, paper.terms, (recipe,), pins=pins)
        review = next((one for one in found.reviews if one.recipe == recipe and one.status != "same"), None)
    until = paper.version.commit or repository.resolve(place.repo, "HEAD")
    way = between(place.repo, place.folder, recipe, since, until)
    commits = [
        WhyChanged(one.commit.oid, one.commit.day, one.commit.author, one.commit.subject, one.commit.reason or "")
        for one in way.done
    ]
    return NoteSubject(args.since, since, review, commits)


# --- the house


def letterhead(root: Path) -> Letterhead:
    """Read what the house adds to its documents; nothing where it has no such file.

    :raises UserError: the file or the logo is wrong.
    """
    path = root / LETTERHEAD_FILE
    if not os.path.lexists(path):
        return Letterhead()
    try:
        if not path.resolve(strict=True).is_relative_to(root.resolve()):
            raise UserError(f"'{LETTERHEAD_FILE}' is a link that leads out of the workspace; it is not followed")
        with path.open("rb") as file:
            data = file.read(_MOST + 1)
    except (OSError, RuntimeError) as error:
        raise UserError(f"'{LETTERHEAD_FILE}' cannot be read: {getattr(error, 'strerror', None) or error}") from None
    if len(data) > _MOST:
        raise UserError(f"'{LETTERHEAD_FILE}' has more than {_MOST:,} bytes")
    facts, problems = read_letterhead(data)
    if problems:
        raise UserError(
            "\n".join(f"{LETTERHEAD_FILE}:{line}:{column}: {words}" for line, column, words in problems[:9])
        )

    def text(*path: str) -> str:
        return readable_fact(facts.get(path), str) or ""

    texts = {
        kind: {where: text(*((kind,) if kind else ()), where) for where in ("before", "after")}
        for kind in ("", *PAPER_KINDS)
    }
    logo = text("logo")
    return Letterhead(
        text("name"), text("address"), text("foot"), text("accent"), logo_at(root, logo) if logo else None, texts
    )

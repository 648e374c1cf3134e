"""``git formula approve``: show what changed since a role last approved, ask, and sign with the user's ssh key."""

from __future__ import annotations

import argparse
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from formula_vcs.approvals import asking, signing
from formula_vcs.approvals.judging import UNTOLD, Approvals
from formula_vcs.approvals.trust import gate_of
from formula_vcs.batches.batch_gate import gate
from formula_vcs.commands import recipe_args, workspace_args
from formula_vcs.commands.recipe_args import readable
from formula_vcs.errors import BLOCKED, OK, UserError
from formula_vcs.figures.figure import Terms
from formula_vcs.git import repository
from formula_vcs.model.approval import TRUST, TRUST_FILE, Signatory
from formula_vcs.model.formula import Formula
from formula_vcs.model.values import replace
from formula_vcs.reports.approvals import text as approvals_text
from formula_vcs.toml.atomic import write_new
from formula_vcs.words.escape import terminal
from formula_vcs.workspace.snapshot import WORKSPACE_FILE, Files, Snapshot


def arguments(parser: argparse.ArgumentParser) -> None:
    """Declare what can be typed."""
    parser.add_argument("target", nargs="?", metavar="RECIPE[@REV]", help="the recipe, as HEAD or REV has it")
    parser.add_argument("--role", metavar="ROLE", help="what you sign as: QA")
    what = parser.add_mutually_exclusive_group()
    what.add_argument("--condition", metavar="WORDS", help="approve on a condition, which is shown wherever it counts")
    what.add_argument("--withdraw", metavar="WHY", help="take the approval of the role back")
    what.add_argument("--trust", action="store_true", help=f"sign a change of {TRUST_FILE} or of the [[approval]] rows")
    parser.add_argument("--yes", action="store_true", help="sign without being asked")
    recipe_args.arguments(parser, "recipe")


def run(args: argparse.Namespace) -> int:
    """Show, ask, sign, and write the two files that are then to be committed."""
    if args.trust:
        if args.target is not None or args.role not in (None, TRUST):
            raise UserError("--trust signs who may sign: it takes no recipe, and no other role")
        return _trust(args)
    if args.target is None or args.role is None:
        raise UserError("approve wants a recipe and --role: git formula approve hand-cream --role QA")
    for name in ("condition", "withdraw"):
        if getattr(args, name) is not None and not getattr(args, name).strip():
            raise UserError(f"--{name} wants words")
    return _recipe(args)


def _recipe(args: argparse.Namespace) -> int:
    target = _committed(args)
    with target.snapshot:
        repo, formula = target.place.repo, target.snapshot.formula(readable(target))
        if repo is None or target.commit is None:
            raise UserError("an approval names a commit, and this workspace is in no git repository")
        with asking.opened(repo, target.place.folder, target.commit) as approvals:
            trust, key = signing.trust_here(approvals), signing.own_key(repo)
            person = signing.may_sign(trust, key, args.role)
            if args.withdraw is not None:
                said = signing.withdrawal(approvals, formula, args.role, args.withdraw)
            else:
                if _stopped(args, target, formula):
                    return BLOCKED
                _not_her_own(approvals, formula, person, args.role)
                _show(args, target, approvals, formula)
                said = signing.approval(approvals, formula, args.role, args.condition or "")
            _asked(args, said, person)
            _written(target.place, signing.signed(approvals, said, key))
    return OK


def _committed(args: argparse.Namespace) -> recipe_args.Target:
    """Find the recipe in a commit; where none is named, what lies here must be what HEAD has."""
    asked = recipe_args.taken_apart(args.target, args.rev)
    if asked.revision is not None:
        return recipe_args.find(args.target, revision=args.rev, workspace=args.workspace, wanted=("recipe",))
    place = workspace_args.place(args.workspace)
    if place.repo is None or not repository.has_commits(place.repo):
        raise UserError("an approval names a version that is committed, and nothing is committed here yet")
    target = recipe_args.find(args.target, revision="HEAD", workspace=args.workspace, wanted=("recipe",))
    with target.place.work_tree() as here:
        recipe = here.recipe(target.id)
        if recipe is not None and here.formula(recipe) != target.snapshot.formula(readable(target)):
            target.snapshot.source.close()
            words = f"'{target.id}' as it lies here is not what HEAD has: commit it first, or approve {target.id}@HEAD"
            raise UserError(words)
    return target


def _stopped(args: argparse.Namespace, target: recipe_args.Target, formula: Formula) -> bool:
    """Show what blocks a version: it cannot be made, so there is nothing to approve."""
    day = workspace_args.terms(args.as_of).day
    stopping = [
        replace(one, shown=target.shown(one.file))
        for one in gate(formula, target.snapshot, day, formula.recipe.names["claims"])
    ]
    if stopping:
        from formula_vcs.reports import check, formats

        formats.write(check.REPORT, check.CheckShown(stopping, blocked=True, recipes=1), "text", sys.stdout)
        sys.stdout.flush()
        print(f"nothing is signed: '{formula.recipe.id}' does not pass", file=sys.stderr)
    return bool(stopping)


def _not_her_own(approvals: Approvals, formula: Formula, person: Signatory | None, role: str) -> None:
    stops = approvals.approved_contents(formula.recipe.id).get(role, set())
    own = [] if person is None else approvals.own_commits(person, formula, stops)
    if own is None:
        raise UserError(UNTOLD)
    if own:
        short = ", ".join(map(repository.short_id, own[:3]))
        raise UserError(f"{person.name if person else ''} made this change (commit {short}): nobody approves her own")


def _show(args: argparse.Namespace, target: recipe_args.Target, approvals: Approvals, formula: Formula) -> None:
    """Show the whole review since the last version that the role approved, then how the version stands."""
    from formula_vcs.evidence.pinned_versions import PinnedVersions
    from formula_vcs.reports.review import text as review_text
    from formula_vcs.review.compare import compare

    place, terms = target.place, workspace_args.terms(args.as_of)
    last = approvals.last_approved(formula, args.role)
    with _before(place, last) as old, PinnedVersions(place.repo, place.folder, store=place.store) as pins:
        found = compare(old, target.snapshot, terms, [formula.recipe.id], pins=pins)
        since = (
            f"what {args.role} approved last, {repository.short_id(last)}"
            if last
            else f"nothing that {args.role} approved"
        )
        title = f"{formula.recipe.id}: {since} \u2192 {repository.short_id(target.commit or '')}"
        blocked = any(review.blocked for review in found.reviews)
        evidence = bool(target.snapshot.ids("evidence"))
        review_text.write(found, title=title, evidence=evidence, blocked=blocked, out=sys.stdout)
    if not last:
        _sheet(target, formula, terms)
    print()
    approvals_text.write(approvals.standing(formula, approvals.need(formula.recipe)), out=sys.stdout)
    sys.stdout.flush()


def _sheet(target: recipe_args.Target, formula: Formula, terms: Terms) -> None:
    """Show the whole recipe to who has never approved it: a review of all of it would only say that it is new."""
    from formula_vcs.reports import formats, show
    from formula_vcs.reports.sheets import RevisionShown, recipe_sheet

    moment = RevisionShown(target.revision, target.commit, target.shown(target.file), target.shown)
    print()
    sheet = recipe_sheet(target.snapshot, formula.recipe, moment, terms)
    formats.write(show.REPORT, show.SheetShown(sheet), "text", sys.stdout)


@contextmanager
def _before(place: workspace_args.WorkspaceRef, commit: str) -> Iterator[Snapshot]:
    with place.commit(commit, repository.short_id(commit)) if commit else Snapshot(Files({}, "nothing")) as old:
        yield old


def _trust(args: argparse.Namespace) -> int:
    """Sign that what lies here takes the place of the trust in force."""
    place = workspace_args.place(args.workspace)
    repo = place.repo
    if repo is None or not repository.has_commits(repo):
        raise UserError("who may sign is told by a history, and nothing is committed here yet")
    with asking.opened(repo, place.folder, repository.resolve(repo, "HEAD")) as approvals:
        trust = signing.trust_here(approvals)
        new = gate_of(*(_bytes(place.root / name) for name in (TRUST_FILE, WORKSPACE_FILE)))
        said = signing.trust_change(approvals, new)
        key = signing.own_key(repo)
        person = signing.may_sign(trust, key, TRUST)
        approvals_text.write_trust(trust, new, out=sys.stdout)
        sys.stdout.flush()
        _asked(args, said, person)
        _written(place, signing.signed(approvals, said, key))
        have = len(approvals.ledger.signers(new, approvals.arrived())) + 1
    print(f"{have} of {trust.signatures} signatures, once committed: git formula help approvals", file=sys.stderr)
    return OK


def _bytes(path: Path) -> bytes | None:
    """Read a file of the gate as it lies here; a link is none."""
    if path.is_symlink() or not path.is_file():
        return None
    return path.read_bytes()


def _asked(args: argparse.Namespace, said: dict[str, object], person: Signatory | None) -> None:
    """Ask whether to sign.

    :raises UserError: the answer is no, or nobody is there to ask.
    """
    if args.yes:
        return
    who = person.name if person is not None else "you"
    what = terminal(approvals_text.asked(said, who))
    if not sys.stdin.isatty():
        raise UserError("nobody is there to be asked: read what is shown, then sign with --yes")
    print(f"{what} [y/N] ", end="", file=sys.stderr, flush=True)
    if sys.stdin.readline().strip().casefold() not in ("y", "yes"):
        raise UserError("nothing is signed")


def _written(place: workspace_args.WorkspaceRef, made: signing.SignedFiles) -> None:
    """Write the payload and its signature; neither replaces anything."""
    folder = (place.root / made.path).parent
    for above in (folder.parent, folder):
        if above.is_symlink():
            raise UserError(f"'{place.shown(above.name)}' is a link; links to folders are not followed")
    try:
        folder.mkdir(parents=True, exist_ok=True)
        write_new(place.root / made.signature_path, made.signature)
        write_new(place.root / made.path, made.payload)
    except FileExistsError:
        raise UserError(f"'{made.path}' is there already") from None
    except OSError as error:
        raise UserError(f"'{made.path}' cannot be written: {error.strerror}") from None
    print(f"wrote {place.shown(made.path)} and its signature: commit both", file=sys.stderr)

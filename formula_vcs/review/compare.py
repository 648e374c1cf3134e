"""Compare two snapshots: per recipe what changed, what it does, what it breaks; and the files beside."""

from __future__ import annotations

import datetime
from collections.abc import Callable, Iterable, Mapping, Sequence
from typing import Any, Final

from formula_vcs.approvals.trust import trust_changes, trust_of
from formula_vcs.diff.change import GONE, Change, Put
from formula_vcs.diff.counterfactuals import Counterfactuals, TooMuchError, all_findings, causes, cures
from formula_vcs.diff.diff import diff
from formula_vcs.diff.effects import Effect, effects
from formula_vcs.diff.label_order import LabelMove, label_moves, lists_of_new_markets
from formula_vcs.diff.material_changes import (
    ROWS,
    differing,
    ingredient_changes,
    proof_changes,
    rule_words,
    touching,
    whole_rows,
)
from formula_vcs.diff.record_edits import describe
from formula_vcs.evidence.coverage import Coverage, Evidence
from formula_vcs.evidence.duties import Duty, Reviewed, follow, without
from formula_vcs.figures.figure import Terms
from formula_vcs.figures.ingredient_list import LabelLine
from formula_vcs.law.compliance import markets
from formula_vcs.law.not_judged import open_fields
from formula_vcs.model.approval import TRUST_FILE
from formula_vcs.model.evidence import PROOF
from formula_vcs.model.facts import Facts, spelled
from formula_vcs.model.facts import Path as FactPath
from formula_vcs.model.finding import Finding, badness
from formula_vcs.model.formula import Formula
from formula_vcs.model.ingredient import Ingredient
from formula_vcs.model.recipe import Recipe
from formula_vcs.model.values import dataclass, field, replace
from formula_vcs.review.figure_weight import weights
from formula_vcs.review.finding_moves import sorted_out
from formula_vcs.review.grade_swaps import Swap, lost_demands, swaps
from formula_vcs.review.guard import guarding
from formula_vcs.review.guarded_files import decision_words
from formula_vcs.review.looking_ahead import Deadline, deadlines
from formula_vcs.review.loosenings import Loosening, loosenings
from formula_vcs.review.pairing import pairs_of, renamed_between, touched_between
from formula_vcs.review.preservation_lost import harder
from formula_vcs.review.substance_moves import RoleChange, SubstanceMove, as_finding, role_changes, substance_moves
from formula_vcs.rules.accepted import of_law
from formula_vcs.rules.process.handling_unstated import all_of, unstated
from formula_vcs.rules.rule import Pins
from formula_vcs.workspace.snapshot import Snapshot, id_of, kind_of


@dataclass(frozen=True, slots=True)
class NewFinding:
    """A finding that was not there before, with the ids of the changes that bring it together.

    ``causes`` is None where more would have had to be tried than is done for one recipe.
    """

    finding: Finding
    causes: tuple[str, ...] | None


@dataclass(frozen=True, slots=True)
class ReviewSides:
    """Both versions of a recipe with what each rests on, and what their figures were asked for: pictures need them."""

    past: Formula
    present: Formula
    terms: Terms


@dataclass(frozen=True, slots=True)
class Review:
    """One recipe between two versions.  ``status`` is changed, added, removed, or unread (a side does not parse).

    ``listed`` says of each figure in ``effects`` why a reader has to see it, empty where he need not
    (`review.figure_weight`).  ``cures`` are, for each finding that is gone, the ids of the changes that cured it
    together; None where not all was tried that would have to be.  ``ahead`` is what a change brings in or raises that
    the law will not allow within 24 months, ``accepted`` are the findings of a limit or a ban of the law that the new
    version accepts, ``lists`` the ingredient lists for markets that are new, ``guard`` what makes its judgement milder
    or blinder.
    """

    recipe: str
    title: str
    status: str
    file: str
    changes: tuple[Change, ...]
    effects: tuple[Effect, ...]
    new: tuple[NewFinding, ...]
    gone: tuple[Finding, ...]
    still: tuple[Finding, ...]
    duties: tuple[Duty, ...] = ()
    proofs: tuple[Coverage, ...] = ()
    unrecorded: tuple[str, ...] = ()
    cures: tuple[tuple[str, ...] | None, ...] = ()
    label: tuple[LabelMove, ...] = ()
    substances: tuple[SubstanceMove, ...] = ()
    swaps: tuple[Swap, ...] = ()
    roles: tuple[RoleChange, ...] = ()
    listed: Mapping[str, str] = field(default_factory=dict)
    sides: ReviewSides | None = field(default=None, compare=False, repr=False)
    ahead: tuple[Deadline, ...] = ()
    accepted: tuple[Finding, ...] = ()
    lists: tuple[tuple[str, tuple[LabelLine, ...]], ...] = ()
    guard: tuple[Loosening, ...] = ()

    @property
    def blocked(self) -> bool:
        """Say whether the new version is one that must not be used."""
        findings = (*(item.finding for item in self.new), *self.still)
        return any(finding.severity == "block" for finding in findings)


@dataclass(frozen=True, slots=True)
class ChosenChanges:
    """Which changes of a comparison are taken and which are left: the recipe (empty beside them) and the id of each."""

    taken: tuple[tuple[str, str], ...]
    left: tuple[tuple[str, str], ...]


@dataclass(frozen=True, slots=True)
class Comparison:
    """All of two snapshots: the recipes that differ, the files that no recipe shows, and how many are the same.

    ``not_judged`` names markets and fields of law that nobody here judges, of the recipes as they are to be.  ``part``
    says what is taken, where the new side is the old one with some changes only.  ``guard`` is all that makes the
    judgement milder or blinder, of every recipe and beside them, each thing once; ``guarded`` are the same things in
    their order as findings at their lines, as bad as was asked for.  ``made`` says which versions, days and program it
    is by, in words.
    """

    old: str
    new: str
    reviews: tuple[Review, ...]
    beside: tuple[Change, ...]
    touched: tuple[str, ...]
    same: int
    part: ChosenChanges | None = None
    not_judged: tuple[str, ...] = ()
    made: str = ""
    guard: tuple[Loosening, ...] = ()
    guarded: tuple[Finding, ...] = ()


def compare(
    old: Snapshot,
    new: Snapshot,
    terms: Terms,
    only: Sequence[str] = (),
    progress: Callable[[int, int], None] = lambda _done, _all: None,
    *,
    findings: bool = True,
    why: bool = True,
    pins: Pins | None = None,
    measure: bool = True,
    loosened: bool = False,
) -> Comparison:
    """Compare two snapshots of a workspace; ``only`` names recipes, all of them where it is empty.

    ``findings`` says whether both versions are judged, ``why`` whether the causes of new findings are looked for
    and findings that are gone are wanted where no finding is left.  ``pins`` finds the versions that evidence names;
    without it, nothing is said about duties.  ``measure`` says whether figures and the label are worked out.
    ``loosened`` looks for what makes the judgement milder; it is looked for wherever causes are.
    """
    touched = touched_between(old, new)
    renames = renamed_between(old, new)
    pairs = list(pairs_of(old, new, touched, only, renames))
    reviews: list[Review] = []
    evidence = None if pins is None or not findings else Evidence(new, pins, old)
    for done, (name, before, after) in enumerate(pairs):
        progress(done, len(pairs))
        review = _review(
            name, (old, before), (new, after), terms,
            findings=findings, why=why, measure=measure, was_called=renames.get(name), loosened=loosened or why,
        )  # fmt: skip
        if review is not None:
            reviews.append(review if evidence is None else _with_duties(review, evidence, renames.get(name, "")))
    beside = () if only else tuple(_beside(old, new, touched, reviews))
    total = len({*old.ids("recipe"), *new.ids("recipe")} - set(renames.values()))
    unjudged = _not_judged(new, [review.recipe for review in reviews]) if findings else ()
    same = total - len(reviews)
    guard = _guard(old, new, touched, renames, reviews, files=(loosened or (findings and why)) and not only)
    guarded = tuple(new.place(one.finding()) for one in guard)
    return Comparison(
        old.label,
        new.label,
        tuple(reviews),
        beside,
        tuple(sorted(touched)),
        same,
        not_judged=unjudged,
        guard=guard,
        guarded=guarded,
    )


def _guard(
    old: Snapshot,
    new: Snapshot,
    touched: set[str],
    renames: Mapping[str, str],
    reviews: Sequence[Review],
    *,
    files: bool,
) -> tuple[Loosening, ...]:
    found = [(review.recipe, review.file, review.guard) for review in reviews]
    return guarding(old, new, touched if files else None, renames, found)


def _not_judged(new: Snapshot, recipes: Iterable[str]) -> tuple[str, ...]:
    """Name what nobody here judges of some recipes."""
    found = [new.formula(recipe) for name in recipes if (recipe := new.recipe(name)) is not None]
    return open_fields((one.recipe.id, markets(one)) for one in found if not one.recipe.is_premix)


def file_changes(old: Snapshot, new: Snapshot, old_path: str, new_path: str) -> tuple[Change, ...] | None:
    """Give the changes inside one file, which a rename may have moved; None where a side does not parse."""
    kind = kind_of(new_path)
    names = id_of(old_path), id_of(new_path)
    sides = [
        snapshot.read(path) if path in snapshot.listing else None
        for snapshot, path in ((old, old_path), (new, new_path))
    ]
    if any(side is not None and not side.whole for side in sides):
        return None
    facts = [side.facts if side is not None else {} for side in sides]
    if kind == "recipe":
        formulas = [
            snapshot.formula(Recipe(names[1], own, new_path)) for snapshot, own in zip((old, new), facts, strict=True)
        ]
        return tuple(change for change in diff(*formulas) if not change.where.startswith(OF_OTHERS))
    if kind == "ingredients":
        return tuple(ingredient_changes(*(Ingredient(names[1], own, new_path) for own in facts)))
    prefix = f"{kind.removesuffix('s')}/{names[1]}" if kind != "workspace" else "workspace"
    return tuple(_free(prefix, "", new_path, *facts))


# where the changes are that one file makes under every recipe that rests on it
OF_OTHERS: Final = ("rule/", "ingredient/", "premix/", "equipment/", "packaging/", "workspace/")


def _free(prefix: str, lead: str, path: str, old: Facts, new: Facts) -> Iterable[Change]:
    proofs = proof_changes(path, prefix, lead, old, new) if kind_of(path) == "evidence" else None
    if proofs is not None:
        yield from proofs
        old, new = ({fact: value for fact, value in side.items() if fact[0] != PROOF} for side in (old, new))
    kinds = ROWS if kind_of(path) == "rules" else ()
    rows = {row: came for kind in kinds for row, came in whole_rows(old, new, (kind,)).items()}
    own: dict[FactPath, dict[FactPath, Any]] = {row: {} for row in rows}
    for side, is_new in ((old, False), (new, True)):
        for fact, value in side.items():
            if rows.get(fact[:2]) is is_new:
                own[fact[:2]][fact] = value
    for row, came in rows.items():
        facts = own[row]
        edits = tuple(Put(f"file:{path}", fact, value if came else GONE) for fact, value in facts.items())
        before, after = (None, row[-1]) if came else (row[-1], None)
        words = f"{lead}{rule_words(facts, row, came=came)}"
        yield Change("other", f"{prefix}/{spelled(row)}", before, after, words, edits)
    for fact, was, now in differing(old, new):
        if fact[:2] in rows:
            continue
        sides = [None if value is GONE else value for value in (was, now)]
        before, after = (None if value is None else str(value) for value in sides)
        edits = (Put(f"file:{path}", fact, now),)
        yield Change("other", "/".join((prefix, *fact)), before, after, f"{lead}{describe(fact, *sides)}", edits)


def _review(
    name: str,
    before: tuple[Snapshot, Recipe | None],
    after: tuple[Snapshot, Recipe | None],
    terms: Terms,
    *,
    findings: bool,
    why: bool,
    measure: bool = True,
    was_called: str | None = None,
    loosened: bool = True,
) -> Review | None:
    (old, was), (new, now) = before, after
    status = "changed"
    if was is None or now is None:
        status = _status(name, old, new, was, now)
    title = (now or was or Recipe(name, {})).title
    file = (now.file if now is not None else None) or new.ids("recipe").get(name) or old.ids("recipe").get(name, "")
    past = old.formula(was or Recipe(name, {}, file))
    present = new.formula(now or Recipe(name, {}, file))
    if status != "changed":
        # a side that is not there has no workspace of its own to differ in
        past = replace(past, workspace=present.workspace) if was is None else past
        present = replace(present, workspace=past.workspace) if now is None else present
    changes = touching(past, present, diff(past, present))
    if was_called is not None:
        changes = (Change("header", "id", was_called, name, f"renamed, was '{was_called}'"), *changes)
    if not changes and status == "changed":
        if old.ids("recipe").get(name) == new.ids("recipe").get(name) and old.content_name(file) == new.content_name(
            file
        ):
            return None
        return Review(name, title, "same", file, (), (), (), (), ())
    trials = Counterfactuals(past, changes, present)
    measured = measure and status == "changed"
    review = Review(
        name, title, status, file, changes,
        tuple(effects(past, present, changes, terms, trials=trials)) if measured else (), (), (), (),
        label=label_moves(past, present, trials, terms.day) if measured else (),
        substances=substance_moves(past, present) if measured else (),
        swaps=swaps(past, present, changes, terms.day) if measured else (),
        lists=lists_of_new_markets(past, present, terms.day) if measured else (),
        sides=ReviewSides(past, present, terms),
        guard=loosenings(past, present, trials.changes, terms.day) if loosened and status == "changed" else (),
    )  # fmt: skip
    review = replace(review, listed=weights(review.effects, past, present))
    if not findings:
        return review
    after_all = _findings(new, now, present, terms.day)
    # where only new findings count and there are none, the old version need not be judged
    sides = _findings(old, was, past, terms.day) if why or after_all else [], after_all
    if status in ("removed", "unread") and now is None:
        sides = sides[0], [finding for finding in sides[1] if finding.line]
    fresh, gone, still = sorted_out(*sides)
    if why and any(finding.severity != "note" for finding in after_all):
        from formula_vcs.mending.mend import mended

        fresh = mended(fresh, present, terms.day, among=after_all)
        still = mended(still, present, terms.day, among=after_all, severities=("block",))
    tried = trials if why and status == "changed" else None
    lost = role_changes(past, present, tried) if tried is not None else ()
    # that nothing preserves it has a rule of its own, which blocks
    roles = tuple(role for role in lost if role.role != "preservative" or all(f.rule != "preserved" for f in fresh))
    found = [NewFinding(harder(finding, past, present), _causes(tried, finding, terms.day)) for finding in fresh]
    if tried is not None:
        found += of_both(new, past, present, changes, roles)
    return replace(
        review,
        new=tuple(
            NewFinding(new.place(item.finding), item.causes) for item in sorted(found, key=lambda i: badness(i.finding))
        ),
        gone=tuple(old.place(finding) for finding in gone),
        still=tuple(new.place(finding) for finding in sorted(still, key=badness)),
        roles=roles,
        ahead=_ahead(new, past, present, terms.day, tried) if why and status in ("changed", "added") else (),
        accepted=tuple(new.place(finding) for finding in after_all if of_law(finding)),
        cures=tuple(_cures(tried, finding, terms.day) for finding in gone),
    )


def of_both(
    new: Snapshot, past: Formula, present: Formula, changes: Sequence[Change], roles: Sequence[RoleChange]
) -> list[NewFinding]:
    """Give what no version says by itself: demands that went with a swap, materials to ask about, roles left empty."""
    recipe = present.recipe
    lost = lost_demands(past, present, changes, recipe)
    found = [NewFinding(finding, (cause,)) for finding, cause in lost]
    said = {finding.subject.split("/")[1] for finding, _ in lost}
    came = [one for name, one in present.ingredients.items() if name not in past.ingredients and name not in said]
    for finding in unstated(came, all_of(new.ids("ingredients"), new.ingredient)) if came else ():
        bringing = tuple(change.id for change in changes if finding.subject in change.brings)
        found.append(NewFinding(replace(finding, recipe=recipe.id), bringing))
    return found + [NewFinding(as_finding(role, recipe.id, recipe.file), role.causes) for role in roles]


def _with_duties(review: Review, evidence: Evidence, was_called: str) -> Review:
    """Say what has to follow; of a recipe that is gone or cannot be read, what its evidence is worth."""
    if review.sides is None:
        return review
    past, present, day = review.sides.past, review.sides.present, review.sides.terms.day
    if present.recipe.facts:
        old = past if review.status == "changed" else None
        found = follow(evidence, Reviewed(old, present, review.changes, day, was_called))
    else:
        found = without(evidence, review.recipe, removed=review.status == "removed")
    return replace(review, duties=found.duties, proofs=found.proofs, unrecorded=found.unrecorded)


def _status(name: str, old: Snapshot, new: Snapshot, was: Recipe | None, now: Recipe | None) -> str:
    here, there = name in old.ids("recipe"), name in new.ids("recipe")
    if (here and was is None) or (there and now is None):
        return "unread"
    return "removed" if not there else "added"


def _findings(snapshot: Snapshot, recipe: Recipe | None, formula: Formula, day: datetime.date) -> list[Finding]:
    if recipe is None:
        path = snapshot.ids("recipe").get(formula.recipe.id)
        return [] if path is None else [replace(f, recipe=formula.recipe.id) for f in snapshot.read(path).findings]
    found = all_findings(formula, day)
    stop = snapshot.stop_of(recipe.file)
    if stop is not None:
        found.append(replace(stop, recipe=recipe.id))
    for ingredient in formula.ingredients.values():
        if not ingredient.readable:
            found.extend(snapshot.read(ingredient.file).findings)
    return found


def _causes(trials: Counterfactuals | None, finding: Finding, day: datetime.date) -> tuple[str, ...] | None:
    if trials is None or finding.rule in ("syntax", "unreadable", "merge-stopped"):
        return ()
    try:
        return causes(trials.formula(frozenset()), trials.changes, finding, day, trials)
    except TooMuchError:
        return None


def _ahead(
    new: Snapshot, past: Formula, present: Formula, day: datetime.date, trials: Counterfactuals | None
) -> tuple[Deadline, ...]:
    found = deadlines(past, present, day, lambda finding, on: _causes(trials, finding, on))
    return tuple(replace(item, finding=new.place(item.finding)) for item in found)


def _cures(trials: Counterfactuals | None, finding: Finding, day: datetime.date) -> tuple[str, ...] | None:
    if trials is None:
        return ()
    try:
        return cures(trials, finding, day)
    except TooMuchError:
        return None


def _beside(old: Snapshot, new: Snapshot, touched: set[str], reviews: Sequence[Review]) -> Iterable[Change]:
    """Give the changes in files that stand under no recipe here: equipment, lots, unused ingredients, titles."""
    recipes = {review.recipe for review in reviews}
    recipes |= {change.old for review in reviews for change in review.changes if change.where == "id" and change.old}
    shown = {change.where for review in reviews for change in review.changes}
    whole = tuple(f"{where}/" for where in shown & _TOLD_WHOLE)
    for path in sorted(touched):
        if kind_of(path) == "recipe" and id_of(path) in recipes:
            continue
        for change in _of_file(old, new, path):
            if change.where not in shown and not (whole and change.where.startswith(whole)):
                yield change


# rows of the workspace that stand under a recipe as one change
_TOLD_WHOLE: Final = frozenset({"workspace/rate", "workspace/approval"})


def _of_file(old: Snapshot, new: Snapshot, path: str) -> Iterable[Change]:
    kind = kind_of(path)
    before = old.read(path) if path in old.listing else None
    after = new.read(path) if path in new.listing else None
    prefix = f"{kind.removesuffix('s')}/{id_of(path)}" if kind != "workspace" else "workspace"
    one = before or after
    if (before is None or after is None) and one is not None and kind == "rules" and one.whole and one.facts:
        # rule by rule, as recipes show those that are about them
        yield from _free(prefix, f"{path}: ", path, *({} if side is None else side.facts for side in (before, after)))
    elif before is None or after is None:
        verb = "added" if before is None else "removed"
        was, now = (None, path) if before is None else (path, None)
        signed = one is not None and kind == "approvals" and decision_words(one.facts)
        yield Change("other", prefix, was, now, f"{path}: {verb}{f', {signed}' if signed else ''}")
    elif not (before.whole and after.whole):
        words = "does not parse any more" if before.whole else "parses again" if after.whole else "does not parse"
        yield Change("other", prefix, None, None, f"{path}: {words}")
    elif kind == "ingredients":
        yield from ingredient_changes(*(Ingredient(id_of(path), read.facts, path) for read in (before, after)))
    elif path == TRUST_FILE:
        told = "; ".join(trust_changes(trust_of(before.facts), trust_of(after.facts)))
        edits = tuple(Put(f"file:{path}", fact, now) for fact, _, now in differing(before.facts, after.facts))
        if edits:
            yield Change("other", prefix, None, None, f"{path}: {told}", edits)
    else:
        yield from _free(prefix, f"{path}: ", path, before.facts, after.facts)

"""Files that make judging milder: rules, acceptances, approvals."""

from __future__ import annotations

import posixpath
from collections.abc import Iterable, Iterator, Mapping
from decimal import Decimal
from typing import Final

from formula_vcs.approvals.trust import trust_changes, trust_of
from formula_vcs.model.approval import SIGNATURE, TRUST_FILE, ApprovalRow, Needed, approval_rows, needed
from formula_vcs.model.batch import Batch
from formula_vcs.model.evidence import Proof, proofs
from formula_vcs.model.facts import Facts, spelled
from formula_vcs.model.lot import Lot
from formula_vcs.review.loosenings import Loosening
from formula_vcs.workspace.snapshot import WORKSPACE_FILE, Snapshot, id_of, kind_of

# --- Files that guard: evidence, finished records, and the edge of what is judged at all


_MOST_NAMED: Final = 5


def guarded_files(old: Snapshot, new: Snapshot, touched: Iterable[str], renames: Mapping[str, str]) -> list[Loosening]:
    """Give what loosens besides the recipes; ``renames`` are recipes that have another id, ``{new: old}``."""
    paths = frozenset(touched)
    kinds = {kind_of(path) for path in paths}
    found: list[Loosening] = []
    if "evidence" in kinds:
        found += _evidence(old, new)
    if kinds & {"batches", "lots"}:
        found += _records(old, new, paths)
    found += guarded_approvals(old, new, paths, renames)
    return [*found, *_extent(old, new, frozenset(renames.values()))]


def _proofs(snapshot: Snapshot) -> dict[tuple[str, str, str], Proof]:
    """Give the proofs by recipe, kind and report."""
    records = (snapshot.record("evidence", name) for name in snapshot.ids("evidence"))
    return {
        (proof.recipe, proof.kind, proof.report): proof
        for record in records
        if record is not None
        for proof in proofs(record)
    }


def _evidence(old: Snapshot, new: Snapshot) -> Iterator[Loosening]:
    before, after = _proofs(old), _proofs(new)
    for key, was in before.items():
        now = after.get(key)
        what = f"{was.what} {was.report} of '{was.recipe}'"
        if now is None:
            newer = [one for one in after.values() if one.recipe == was.recipe and one.what == was.what]
            if not any(one.passed > was.passed for one in newer):
                yield Loosening("evidence", f"proof deleted: {what}", was.file, recipes=(was.recipe,))
            continue
        if (now.commit, now.hash) != (was.commit, was.hash):
            words = f"proof pinned to another version: {what}, {was.commit[:7]} \u2192 {now.commit[:7]}"
            yield Loosening("evidence", words, now.file, now.at, recipes=(was.recipe,))
        if now.until != was.until and (now.until is None or (was.until is not None and now.until > was.until)):
            words = f"proof prolonged: {what}, until {was.until or 'no day'} \u2192 {now.until or 'no day'}"
            yield Loosening("evidence", words, now.file, now.at, recipes=(was.recipe,))
        if now.passed != was.passed:
            words = f"proof of another day: {what}, passed {was.passed} \u2192 {now.passed}"
            yield Loosening("evidence", words, now.file, now.at, recipes=(was.recipe,))
        if now.claim != was.claim:
            words = (
                f"proof of another claim: {what}, '{was.claim or 'none named'}' \u2192 '{now.claim or 'none named'}'"
            )
            yield Loosening("evidence", words, now.file, now.at, recipes=(was.recipe,))
        if now.value != was.value:
            words = f"proof of another value: {what}, {_stated(was.value)} \u2192 {_stated(now.value)}"
            yield Loosening("evidence", words, now.file, now.at, recipes=(was.recipe,))


def _stated(value: Decimal | None) -> str:
    return "none" if value is None else str(value)


def _records(old: Snapshot, new: Snapshot, touched: frozenset[str]) -> Iterator[Loosening]:
    for name, path in old.ids("batches").items():
        if path not in touched:
            continue
        batch = Batch(name, old.read(path).facts, path)
        if batch.closed is None:
            continue
        here = new.ids("batches").get(name)
        lead = f"batch '{name}', closed on {batch.closed}"
        if here is None:
            yield Loosening("record", f"{lead}: its record is deleted", path)
            continue
        moved = list(_moved(batch.facts, new.read(here).facts))
        if moved:
            yield Loosening("record", f"{lead}: its record is edited: {_some(moved)}", here)
    used = {lot for name in new.ids("batches") for lot in _lots_of(new, name)}
    for name, path in old.ids("lots").items():
        if path not in touched or name not in used:
            continue
        here = new.ids("lots").get(name)
        if here is None:
            yield Loosening("record", f"lot '{name}' is deleted while batches name it", path)
            continue
        was, now = (Lot(name, side.read(where).facts, where) for side, where in ((old, path), (new, here)))
        moved = list(_moved(was.facts, now.facts))
        if moved:
            yield Loosening("record", f"lot '{name}', which batches name: {_some(moved)}", here)


def _lots_of(snapshot: Snapshot, batch: str) -> tuple[str, ...]:
    record = snapshot.record("batches", batch)
    return () if record is None else tuple(Batch(batch, record.facts, record.file).lots)


def _moved(was: Facts, now: Facts) -> Iterator[str]:
    """Name the facts that differ; one that comes is an entry and no edit."""
    for path, value in was.items():
        if now.get(path, value) != value:
            yield f"{spelled(path).replace('/', ' ')} {value} \u2192 {now[path]}"
        elif path not in now:
            yield f"{spelled(path).replace('/', ' ')} {value} taken away"


def _some(words: list[str]) -> str:
    more = f"; and {len(words) - _MOST_NAMED} more" if len(words) > _MOST_NAMED else ""
    return "; ".join(words[:_MOST_NAMED]) + more


def _extent(old: Snapshot, new: Snapshot, renamed: frozenset[str]) -> Iterator[Loosening]:
    """Say what is not judged any more: what still lies there, and what batches or proofs point to."""
    gone = [path for path in old.listing if path not in new.listing and not _stays(path, new, renamed)]
    if not gone:
        return
    unlisted = new.source.unlisted()
    pointing = _pointing(new)
    for path in gone:
        kind = "recipe" if kind_of(path) == "recipe" else kind_of(path).removesuffix("s")
        what = f"{kind} '{id_of(path)}'"
        was = old.content_name(path)
        there = next((other for other in unlisted if _alike(path, other) or new.source.name(other) == was), None)
        if there is not None:
            yield Loosening(
                "extent", f"{what} is not judged any more: it lies at '{there}', which {unlisted[there]}", path
            )
        elif kind == "recipe" and id_of(path) in pointing:
            named = _some(pointing[id_of(path)])
            yield Loosening("extent", f"{what} is removed while records point to it: {named}", path)


def _stays(path: str, new: Snapshot, renamed: frozenset[str]) -> bool:
    """Say whether a file only has another place, or another name that is known to be its own."""
    kind = kind_of(path)
    return id_of(path) in new.ids(kind) or (kind == "recipe" and id_of(path) in renamed)


def _alike(path: str, other: str) -> bool:
    """Say whether two paths end in the same name, whatever the case, the ending and dots in front."""
    return _bare(path) == _bare(other)


def _bare(path: str) -> str:
    return posixpath.basename(path).casefold().strip(".").partition(".")[0]


def _pointing(snapshot: Snapshot) -> dict[str, list[str]]:
    """Name the batches and the evidence that name each recipe."""
    found: dict[str, list[str]] = {}
    for kind in ("batches", "evidence"):
        for name in snapshot.ids(kind):
            record = snapshot.record(kind, name)
            recipe = None if record is None else record.facts.get(("recipe",))
            if isinstance(recipe, str):
                found.setdefault(recipe, []).append(f"{kind}/{name}")
    return found


# --- What loosens approving: who may sign, what needs it, and signed decisions that go


_MOST_APPROVALS_NAMED: Final = 6


def guarded_approvals(
    old: Snapshot, new: Snapshot, touched: frozenset[str], renames: Mapping[str, str]
) -> Iterator[Loosening]:
    """Give what loosens approving; ``renames`` are recipes that have another id, ``{new: old}``."""
    if any(path.startswith("approvals/") for path in touched):
        yield from _trust(old, new, touched)
    if any(path != TRUST_FILE for path in old.ids("approvals").values()):
        yield from _decisions(old, new, touched)
    yield from _needs(old, new, renames)


def of_gate(one: Loosening) -> bool:
    """Say whether something loosens the gate itself: it passes when the old trust has signed the new one."""
    return one.kind == "approval" and one.file in (TRUST_FILE, WORKSPACE_FILE)


def _trust(old: Snapshot, new: Snapshot, touched: frozenset[str]) -> Iterator[Loosening]:
    if TRUST_FILE not in touched or TRUST_FILE not in old.listing:
        return
    was = trust_of(old.read(TRUST_FILE).facts)
    if TRUST_FILE not in new.listing:
        yield Loosening("approval", "who may approve is taken away: the file is not there any more", TRUST_FILE)
        return
    read = new.read(TRUST_FILE)
    if not read.whole:
        yield Loosening("approval", "who may approve cannot be read any more", TRUST_FILE)
        return
    now = trust_of(read.facts)
    told = trust_changes(was, now) if now != was else []
    more = f"; and {len(told) - _MOST_NAMED} more" if len(told) > _MOST_APPROVALS_NAMED else ""
    if told:
        yield Loosening("approval", f"who may approve: {'; '.join(told[:_MOST_NAMED])}{more}", TRUST_FILE)


def _decisions(old: Snapshot, new: Snapshot, touched: frozenset[str]) -> Iterator[Loosening]:
    """Name the signed decisions that are gone or edited; one that was only moved is neither."""
    here = {new.content_name(path): path for path in new.ids("approvals").values()}
    signed, still = old.source.unlisted(), new.source.unlisted()
    for path in old.ids("approvals").values():
        if path == TRUST_FILE:
            continue
        there = here.get(old.content_name(path))
        if there is None and path in touched:
            words = f"a signed decision is {'edited' if path in new.listing else 'deleted'}"
        elif there is not None and f"{path}{SIGNATURE}" in signed and f"{there}{SIGNATURE}" not in still:
            words = "the signature of a decision is deleted"
        else:
            continue
        facts = old.read(path).facts
        recipe = facts.get(("recipe",))
        recipes = (recipe,) if isinstance(recipe, str) else ()
        yield Loosening("approval", f"{words}: {decision_words(facts)}", path, recipes=recipes)


def decision_words(facts: Facts) -> str:
    """Say what a payload decides, as it states it itself; empty where it is none."""
    role, recipe, decision = (facts.get((name,)) for name in ("role", "recipe", "decision"))
    if not isinstance(role, str) or not isinstance(decision, str):
        return ""
    return f"'{decision}' by {role} on '{recipe}'" if isinstance(recipe, str) else f"'{decision}' by {role}"


def _needs(old: Snapshot, new: Snapshot, renames: Mapping[str, str]) -> Iterator[Loosening]:
    """Name the roles that need not approve a recipe any more, and recipes whose batches are only marked now."""
    before = approval_rows(old.workspace.facts)
    if not before:
        return
    after = approval_rows(new.workspace.facts)
    said: dict[tuple[str, str], list[str]] = {}
    called = {was: name for name, was in renames.items()}
    for was in old.ids("recipe"):
        name = called.get(was, was)
        one, other = old.recipe(was), new.recipe(name)
        if one is None or other is None:
            continue
        words = _less(needed(before, one), needed(after, other))
        if words:
            said.setdefault((words, _whose(before, after, other.file)), []).append(name)
    for (words, file), recipes in said.items():
        yield Loosening("approval", words, file, recipes=tuple(recipes))


def _less(was: Needed, now: Needed) -> str:
    lost = [role for role in was.roles if role not in now.roles]
    if lost:
        return f"made without the approval of {', '.join(lost)} from now on"
    return "made without approvals from now on, and only marked" if was.refuse and not now.refuse and now.roles else ""


def _whose(before: tuple[ApprovalRow, ...], after: tuple[ApprovalRow, ...], recipe: str) -> str:
    """Name the file that brings it: the rows, or the recipe that is another product now."""
    return recipe if before == after else WORKSPACE_FILE

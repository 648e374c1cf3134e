"""Files that guard: evidence, finished records, and the edge of what is judged at all."""

from __future__ import annotations

import posixpath
from collections.abc import Iterable, Iterator, Mapping
from decimal import Decimal
from typing import Final

from formula_vcs.model.batch import Batch
from formula_vcs.model.evidence import Proof, proofs
from formula_vcs.model.facts import Facts, spelled
from formula_vcs.model.lot import Lot
from formula_vcs.review.guarded_approvals import guarded_approvals
from formula_vcs.review.loosenings import Loosening
from formula_vcs.workspace.snapshot import Snapshot, id_of, kind_of

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

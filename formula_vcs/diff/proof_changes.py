"""What changed in a file of evidence, proof by proof: by what each proves, not by its place in the file."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any, Final

from formula_vcs.diff.change import GONE, Change, Put
from formula_vcs.diff.change_words import plain
from formula_vcs.diff.free_data import describe
from formula_vcs.model.evidence import PROOF, title
from formula_vcs.model.facts import Facts

Named = tuple[str, str]
_Rows = Mapping[Named, tuple[str, dict[str, Any]]]
_TOLD: Final = ("passed", "until", "market", "scheme", "value", "claim")


def proof_changes(path: str, prefix: str, lead: str, old: Facts, new: Facts) -> list[Change] | None:
    """Give the changes of the proofs, a removed and an added one in one line each; ``lead`` begins every line.

    None where two proofs of one side cannot be told apart by kind and report: then only their place tells them.
    """
    before, after = _rows(old), _rows(new)
    if before is None or after is None:
        return None
    return list(_changes(f"file:{path}", prefix, lead, before, after))


def _changes(owner: str, prefix: str, lead: str, before: _Rows, after: _Rows) -> Iterator[Change]:
    for name in {**before, **after}:
        kind, report = name
        words = f"{lead}proof of {title(kind)} {report}"
        where = f"{prefix}/{PROOF}/{kind}/{report}"
        if name not in after or name not in before:
            came = name in after
            number, row = after[name] if came else before[name]
            edits = tuple(Put(owner, (PROOF, number, key), value if came else GONE) for key, value in row.items())
            told = ", ".join(f"{key} {plain(row[key])}" for key in _TOLD if key in row)
            verb = "added" if came else "removed"
            yield Change("other", where, None if came else report, report if came else None,
                         f"{words}: {verb}" + (f" ({told})" if told else ""), edits)  # fmt: skip
            continue
        (_, was), (number, now) = before[name], after[name]
        for key in {**was, **now}:
            sides = was.get(key), now.get(key)
            if sides[0] == sides[1]:
                continue
            put = Put(owner, (PROOF, number, key), now.get(key, GONE))
            texts = tuple(None if side is None else str(side) for side in sides)
            yield Change("other", f"{where}/{key}", texts[0], texts[1], f"{words}, {describe((key,), *sides)}", (put,))


def _rows(facts: Facts) -> _Rows | None:
    """Give the proofs by kind and report, each with its number in the file; None where those do not name them all."""
    rows: dict[str, dict[str, Any]] = {}
    for path, value in facts.items():
        if path[0] == PROOF and len(path) != 3:
            return None  # no proof at all, which the reader refuses
        if path[0] == PROOF:
            rows.setdefault(path[1], {})[path[2]] = value
    found = {(str(row.get("kind", "")), str(row.get("report", ""))): (number, row) for number, row in rows.items()}
    return found if len(found) == len(rows) else None

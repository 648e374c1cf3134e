"""Compile Annexes II to VI: ``python -m formula_vcs.law.compile_annexes``.

The tables brought in and their readings become two sorted files that a check looks up and never reads whole:
``annexes/rows.tsv`` (id of a row, its pack, the row as JSON) and ``annexes/keys.tsv`` (folded name or CAS number, id).
A test fails where they are not what the tables say.
"""

from __future__ import annotations

import json
import sys
from collections import defaultdict
from collections.abc import Iterable, Iterator
from typing import Final

from formula_vcs.law.annex_rows import AnnexRows, Filed
from formula_vcs.law.annex_store import entries_cited
from formula_vcs.law.annex_tables import ROOM, AnnexTables
from formula_vcs.law.compile_packs import PACKS, pack
from formula_vcs.law.pack_rows import row_data
from formula_vcs.law.sorted_table import table_text
from formula_vcs.model.law_row import LawRow

ROWS: Final = ROOM / "annexes" / "rows.tsv"
KEYS: Final = ROOM / "annexes" / "keys.tsv"


def held() -> dict[tuple[str, str], frozenset[str]]:
    """The entries (annex, entry) whose limits and bans stand in a pack written by hand, with their keys."""
    found: dict[tuple[str, str], set[str]] = defaultdict(set)
    for file in sorted(PACKS.glob("eu-annex-*.toml")):
        for row in pack(file.stem)[1]:
            for entry in entries_cited(row.citation) if row.kind != "name" else ():
                found[entry].update((*row.names, *row.cas))
    return {entry: frozenset(keys) for entry, keys in found.items()}


def worded() -> set[tuple[str, str]]:
    """The entries whose words of the label stand in a pack written by hand."""
    rows = (row for file in sorted(PACKS.glob("eu-annex-*.toml")) for row in pack(file.stem)[1])
    return {entry for row in rows if row.kind == "warning" for entry in entries_cited(row.citation)}


def entry_of(row: LawRow) -> tuple[str, str]:
    """The entry (annex, entry) that a row is of."""
    _, annex, entry = row.id.split("-")[:3]
    return annex, entry


def compiled() -> tuple[str, str, list[str]]:
    """The texts of both files, and the phrases that no reading knows.

    :raises ValueError: two rows have one id.
    """
    made = AnnexRows(AnnexTables(), held(), worded())
    filed = list(made)
    return table_text(_rows(filed)), table_text(_keys(filed)), made.unread


def _rows(filed: Iterable[Filed]) -> Iterator[tuple[str, ...]]:
    seen: dict[str, LawRow] = {}
    for row, _ in filed:
        other = seen.setdefault(row.id, row)
        if other != row and (other.citation, other.kind) != (row.citation, row.kind):
            raise ValueError(f"two rows are called '{row.id}'")
        if other is row:
            data = json.dumps(row_data(row), ensure_ascii=False, separators=(",", ":"))
            yield row.id, row.pack, data


def _keys(filed: Iterable[Filed]) -> Iterator[tuple[str, ...]]:
    for row, keys in filed:
        yield from ((key, row.id) for key in keys)


def main() -> None:
    """Write both files; say what no reading knows."""
    rows, keys, unread = compiled()
    ROWS.write_text(rows, encoding="utf-8")
    KEYS.write_text(keys, encoding="utf-8")
    for phrase in unread:
        sys.stderr.write(f"no reading for {phrase}: its limits are asked about and not judged\n")


if __name__ == "__main__":
    main()

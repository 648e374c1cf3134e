"""Bring the facts of the United States in: ``python -m formula_vcs.law.bring_in_us DIR``.

DIR holds them as CSV (UTF-8, first line the names of the columns; more columns may be there):

* ``us-colour-additives.csv``: one line a colour additive of 21 CFR 73 subpart C and 74 subpart C: ``name``, ``cfr``,
  ``ci``, ``cas``, ``batch_certified`` (yes, no), ``area_of_eye``, ``generally_and_lips``, ``external`` (yes, no, or
  limited: then ``limits`` says how), ``max_percent``, ``limits``, ``evidence``;
* ``us-prohibited.csv``: one line a substance or family of 21 CFR 700 and 250: ``substance``, ``cas``, ``cfr``,
  ``products``, ``condition``, ``evidence``;
* ``us-otc-actives.csv``: one line an active ingredient of a monograph for drugs without prescription: ``monograph``,
  ``active``, ``inci``, ``cas``, ``min``, ``max``, ``unit``, ``condition``, ``cite``, ``evidence``.

``evidence`` says how a line was checked: T text of the section read, O a table of FDA's read, P a sister section or the
Federal Register read, C commentary, M from memory.  It becomes ``checked``, in the words that packs have for it.

It writes the project's own tables, ``formula_vcs/law/us/*.csv``, in the order in which they come, and compiles them.
Nothing is written where a line cannot be read.  What a line means for a recipe, where its words leave that open, stands
in ``us/readings.toml`` and not here.
"""

from __future__ import annotations

import csv
import io
import sys
from decimal import Decimal, InvalidOperation
from pathlib import Path
from typing import Final

from formula_vcs.model.cas import cas_trouble

TABLES: Final = Path(__file__).with_name("us")
CHECKED: Final = {"T": "text", "O": "data export", "P": "commentary", "C": "commentary", "M": "memory"}
COLUMNS: Final[dict[str, tuple[str, ...]]] = {
    "colour-additives": (
        "name", "cfr", "ci", "cas", "batch_certified", "area_of_eye", "generally_and_lips", "external", "max_percent",
        "limits", "evidence",
    ),
    "prohibited": ("substance", "cas", "cfr", "products", "condition", "evidence"),
    "otc-actives": (
        "monograph", "active", "inci", "cas", "min", "max", "unit", "condition", "cite", "evidence",
    ),
}  # fmt: skip
_WORDS: Final = {
    "batch_certified": ("yes", "no"),
    "area_of_eye": ("yes", "no", "limited"),
    "generally_and_lips": ("yes", "no", "limited"),
    "external": ("yes", "no", "limited"),
    "unit": ("%", "% F"),
    "evidence": tuple(CHECKED),
}
_NUMBERS: Final = ("min", "max", "max_percent")


def brought(name: str, text: str) -> str:
    """Give our own table for the text of a published one.

    :raises ValueError: columns are missing or lines cannot be read; the message names them all.
    """
    reader = csv.DictReader(io.StringIO(text))
    lacking = [column for column in COLUMNS[name] if column not in (reader.fieldnames or ())]
    if lacking:
        raise ValueError(f"{name}: no column {', '.join(lacking)}")
    lines = [{column: " ".join((line[column] or "").split()) for column in COLUMNS[name]} for line in reader]
    bad = [f"{name}: line {number}: {said}" for number, line in enumerate(lines, 2) for said in _wrong(line)]
    if bad:
        raise ValueError("\n".join(bad))
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow([*COLUMNS[name][:-1], "checked"])
    writer.writerows([*(line[column] for column in COLUMNS[name][:-1]), CHECKED[line["evidence"]]] for line in lines)
    return out.getvalue()


def _wrong(line: dict[str, str]) -> list[str]:
    """Say what cannot be read of a line."""
    found = [
        f"{column} is '{line[column]}', not {' or '.join(words)}"
        for column, words in _WORDS.items()
        if column in line and line[column] not in words
    ]
    for number in filter(None, line["cas"].split("; ")):
        trouble = cas_trouble(number)
        if trouble:
            found.append(f"{number} {trouble}")
    return found + [f"{column}: '{line[column]}' is no number" for column in _NUMBERS if not _number(line.get(column))]


def _number(text: str | None) -> bool:
    try:
        return not text or Decimal(text) >= 0
    except InvalidOperation:
        return False


def main(folder: Path) -> None:
    """Write the tables, all or none, and compile."""
    made = {name: brought(name, (folder / f"us-{name}.csv").read_text("utf-8")) for name in COLUMNS}
    TABLES.mkdir(exist_ok=True)
    for name, text in made.items():
        (TABLES / f"{name}.csv").write_text(text, "utf-8")
    from formula_vcs.law import compile_packs  # pays for the tables only where they are there

    compile_packs.main()


if __name__ == "__main__":
    main(Path(sys.argv[1]))

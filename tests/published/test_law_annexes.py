"""Each entry of Annexes II to VI that has a name or a CAS number: a recipe that breaks it, and one that keeps it.

What is wanted is read off the tables as they were brought in (Regulation (EC) No 1223/2009, consolidated text of 18 May
2026: entry, use, amount); the rows that judge come compiled.  Some chunks of each annex run always, all of them with
the mark `slow`.
"""

from __future__ import annotations

import datetime
import re
from collections.abc import Iterator
from fractions import Fraction
from typing import NamedTuple

import pytest

from formula_vcs.figures.breakdown import Breakdown
from formula_vcs.law import compile_annexes
from formula_vcs.law.annex_rows import AnnexRows, Filed, percent
from formula_vcs.law.annex_store import entries_cited
from formula_vcs.law.annex_tables import AnnexTables
from formula_vcs.model.finding import Finding
from formula_vcs.model.law_row import LawRow
from formula_vcs.rules.judge import judge
from formula_vcs.rules.registry import RULES
from tests.published.helpers_law import formula, material, text, type_for

DAY = datetime.date(2026, 11, 24)
CHUNKS = 60
QUICK = 5
LAW = [RULES[name] for name in ("prohibited", "limit", "ask-supplier", "trace", "positive-list")]
TABLES = AnnexTables()


class Probe(NamedTuple):
    """One substance in one product."""

    name: str
    cas: str
    amount: str
    product: str
    function: str = "other"
    role: str = ""
    day: datetime.date = DAY


def _findings(probe: Probe) -> list[Finding]:
    name = probe.name.removesuffix(" (nano)")
    parts = ["pct = 100"]
    parts += ["nano = true"] if name != probe.name else []
    parts += [f'cas = "{probe.cas}"'] if probe.cas else []
    parts += [f'role = "{probe.role}"'] if probe.role else []
    quoted = name.replace("\\", "\\\\").replace('"', '\\"')
    text_of = material({}, f'"{quoted}" = {{ {", ".join(parts)} }}', head=f'functions = ["{probe.function}"]')
    of = formula({"it": probe.amount}, {"it": text_of}, probe.product)
    return judge(of, probe.day, Breakdown(of), LAW)


def _cites(finding: Finding, annex: str, entry: str) -> bool:
    return bool(re.search(rf"Annex {annex.upper()}/{entry}(?![\da-z])", f"{finding.source} {finding.message}"))


def _blocks(probe: Probe, annex: str, entry: str) -> bool:
    return any(f.severity == "block" and _cites(f, annex, entry) for f in _findings(probe))


def _sure(annex: str, entry: str) -> Iterator[tuple[str, str]]:
    """Give a name of an entry without a number, and each number (at most three) under a name that nobody knows."""
    found = TABLES.names[annex, entry]
    nano = " (nano)" if entry in ("1725", "1726", "1727", "1728", "1729") and annex == "ii" else ""
    yield from ((name + nano, "") for name in sorted(found.sure, key=len)[:1])
    yield from ((f"Unheard-of Stuff {number}{nano}", number) for number in found.cas[:3])


def _chunks(annex: str) -> list[object]:
    """Give the entries of an annex in chunks; all but a few of them only run where slow tests do."""
    entries = [entry for entry in TABLES.entries[annex] if any(True for _ in _sure(annex, entry))]
    size = max(1, -(-len(entries) // CHUNKS))
    cut = [entries[at : at + size] for at in range(0, len(entries), size)]
    quick = {round(at * (len(cut) - 1) / (QUICK - 1)) for at in range(QUICK)}
    return [
        pytest.param(part, id=f"{annex}/{part[0]}", marks=[] if number in quick else [pytest.mark.slow])
        for number, part in enumerate(cut)
    ]


# ---------------------------------------------------------------------- Annex II

ASKED = tuple(TABLES.readings["condition"]["ask"])
WARNED = tuple(TABLES.readings["condition"]["warn"])
ELSEWHERE = {"358", "360"}  # limits, by hand
PRODUCTS = {"hair dye": "oxidative hair dye", "hair and eyelash dye": "eyelash dye"}


@pytest.mark.parametrize("entries", _chunks("ii"))
def test_what_annex_ii_bans(entries: list[str]) -> None:
    for entry in entries:
        line = TABLES.entries["ii"][entry][0]
        if entry in ELSEWHERE or line["placed"] > DAY.isoformat():
            continue
        condition = line["condition"].casefold()
        function = "fragrance" if line["use"] == "fragrance" else "other"
        product = PRODUCTS.get(line["use"], "face cream")
        for name, cas in _sure("ii", entry):
            probe = Probe(name, cas, "0.0001", product, function)
            said = [finding for finding in _findings(probe) if _cites(finding, "ii", entry)]
            if condition.startswith(ASKED):
                assert {"note"} == {finding.severity for finding in said}, (entry, name)
            elif condition.startswith(WARNED):
                assert {"warn"} == {finding.severity for finding in said}, (entry, name)
            else:
                assert "block" in {finding.severity for finding in said}, (entry, name)
                assert not _blocks(probe._replace(role="impurity"), "ii", entry), (entry, name)
            if line["use"] in PRODUCTS:
                assert not _blocks(probe._replace(product="face cream"), "ii", entry), (entry, name)
            elif line["use"] == "fragrance":
                assert not _blocks(probe._replace(function="other"), "ii", entry), (entry, name)


# ---------------------------------------------------------------------- Annexes III, V and VI, amounts

FILED = list(AnnexRows(TABLES, compile_annexes.held(), compile_annexes.worded()))
LIMITS: dict[tuple[str, str], list[Filed]] = {}
for _filed in FILED:
    if _filed.row.kind in ("limit", "sum") and _filed.row.severity == "block" and not _filed.row.basis:
        LIMITS.setdefault(compile_annexes.entry_of(_filed.row), []).append(_filed)


def _day(row: LawRow) -> datetime.date:
    return max(row.placed.first or DAY, DAY)


@pytest.mark.parametrize("entries", [*_chunks("iii"), *_chunks("v"), *_chunks("vi"), *_chunks("iv")])
def test_amounts_on_their_limit_and_above(entries: list[str]) -> None:
    """Exactly on the limit of every tier nothing blocks by that row; a billionth above it does."""
    for entry in entries:
        for annex in ("iii", "iv", "v", "vi"):
            for row, keys in LIMITS.get((annex, entry), []):
                product = type_for(row)
                if not keys or product is None:
                    continue
                assert row.at_most is not None
                name = min(row.spelled, key=len) if row.spelled else f"Unheard-of Stuff {keys[0]}"
                cas = "" if row.spelled else keys[0].removesuffix(" (nano)")
                probe = Probe(name, cas, text(row.at_most), product, row.function or "other", day=_day(row))
                over = probe._replace(amount=text(row.at_most + Fraction(1, 10**9)))
                own = f"{row.id}/"
                kept = [f for f in _findings(probe) if f.subject.startswith(own) and f.severity == "block"]
                assert [] == kept, (row.id, product)
                broken = [f for f in _findings(over) if f.subject.startswith(own) and f.severity == "block"]
                assert broken, (row.id, product)


# What no recipe shows (peanut protein in an oil, particles of a powder, amines in a material), and a mixture that entry
# 12 has.
IN_WORDS = {
    ("iii", "60", ""), ("iii", "61", ""), ("iii", "306", ""), ("iii", "321", "a"), ("iii", "321", "b(i)"),
    ("iii", "321", "b(ii)"), ("v", "12a", "mixture"),
}  # fmt: skip


def test_every_amount_of_the_tables_is_in_a_row() -> None:
    """The values of the law's columns, read again here: each is the limit of a row of its entry, by hand or not."""
    from formula_vcs.law.packs_in_force import law_of

    by_hand: dict[tuple[str, str], set[Fraction]] = {}
    for row in law_of(("EU",)).all_rows():
        for cited in entries_cited(row.citation):
            by_hand.setdefault(cited, set()).update(() if row.at_most is None else (row.at_most,))
    made: dict[tuple[str, str], set[Fraction]] = {}
    for row, _ in FILED:
        made.setdefault(compile_annexes.entry_of(row), set()).update(() if row.at_most is None else (row.at_most,))
    lacking = [
        (annex, entry, line.get("tier", ""), line["value"])
        for annex in ("iii", "iv", "v", "vi")
        for entry, lines in TABLES.entries[annex].items()
        for line in lines
        if line["value"]
        and (annex, entry, line.get("tier", "")) not in IN_WORDS
        and percent(line["value"], line["unit"])
        not in made.get((annex, entry), set()) | by_hand.get((annex, entry), set())
    ]

    assert [] == lacking


# ---------------------------------------------------------------------- Annex IV, classes

CLASSES = {
    "1": (),
    "2": ("mascara",),
    "3": ("lipstick", "toothpaste"),
    "4": ("face cream", "lipstick"),
    "listed": ("face cream",),
}
ALLOWED = {"1": "lipstick", "2": "body lotion", "3": "body lotion", "4": "shower gel", "listed": "eye shadow"}


@pytest.mark.parametrize("line", [lines[0] for lines in TABLES.entries["iv"].values()], ids=lambda line: line["entry"])
def test_the_products_of_a_colorant(line: dict[str, str]) -> None:
    kind = line["class"].split()[0]
    names = re.findall(r"\d{5}", line["ci"]) or [re.split(r" ?/ ?|, ", line["inci"] or line["name"])[0]]
    name = f"CI {names[0]}" if names[0].isdigit() else names[0]
    name += " (nano)" if line["entry"] == "126a" else ""
    for product in CLASSES[kind]:
        assert _blocks(Probe(name, "", "0.0001", product, "colorant"), "iv", line["entry"]), product
    kept = Probe(name, "", "0.0001", ALLOWED[kind], "colorant")
    assert not _blocks(kept, "iv", line["entry"])
    assert [] == [f.message for f in _findings(kept) if f.rule == "positive-list"]

"""The law of the United States as rows: the tables brought in (`us/*.csv`), read as `us/readings.toml` says.

21 CFR 701.3(c): the name that FDA gave, else the dictionary's, else a pharmacopoeia's; a certified colour by its name
without "FD&C" or "D&C" and without "No." (from memory).  There is no "(nano)" there.  The names are data:
`us/readings.toml` and the table of colour additives.

Pure, and run once when the packs are compiled.  A line that is from memory says so and warns; it blocks nothing.
"""

from __future__ import annotations

import csv
import datetime
import re
import tomllib
from collections.abc import Callable, Iterable, Iterator
from fractions import Fraction
from functools import lru_cache
from pathlib import Path
from typing import Any, Final

from formula_vcs.law.compliance import Compliance
from formula_vcs.law.functions import COLORANT
from formula_vcs.law.identity import identify, law_key
from formula_vcs.law.packs_in_force import Law, us_label_name
from formula_vcs.model.ingredient import inci_key
from formula_vcs.model.law_row import ALWAYS, DIMENSIONS, EVERYTHING, DateRange, LawRow, Scope
from formula_vcs.model.values import replace
from formula_vcs.words.late_pattern import late_pattern

# --- What an ingredient list of the United States calls a substance


_NANO: Final = " (nano)"
_INDEX: Final = "ci "
_CERTIFIED: Final = ("d&c ", "fd&c ", "ext. d&c ")


def listed_colours(law: Law, key: str, spelled: str, cas: str) -> list[LawRow]:
    """The colour additives that a substance is: several where its number is that of several.

    Its own name ("Red 7"), or else a CAS number, tells those apart.
    """
    numbers, own = cas.split("; "), inci_key(spelled)
    found = {row.id: row for row in law.about((key, own), tuple(filter(None, numbers)))}
    rows = [row for row in found.values() if row.pack == COLOURS and row.kind == "allowed"]
    named = [row for row in rows if own in row.names and not own.startswith(_INDEX)]
    return named or [row for row in rows if not set(numbers).isdisjoint(row.cas)] or rows


def us_name(law: Law, key: str, cas: str, spelled: str) -> str:
    """The name that the list has for a substance; both, parted by "or", where nobody can tell which it is."""
    bare = spelled[: -len(_NANO)] if spelled.casefold().endswith(_NANO) else spelled
    key = key.removesuffix(_NANO)
    if not key.startswith((_INDEX, *_CERTIFIED)):
        known = identify(bare, cas)
        other = known.inci if known.how == "other name" and known.kind != "us-name" else ""
        return us_label_name(key) or other or bare
    printed = list(dict.fromkeys(row.printed for row in listed_colours(law, key, bare, cas)))
    lake = " Lake" if bare.casefold().endswith(" lake") else ""
    return " or ".join(f"{name}{lake}" for name in printed) or bare


def undecided(found: Compliance) -> Iterator[str]:
    """Name the colours whose number is that of several listed ones, so that the list cannot name them."""
    for key, held in found.totals.items():
        names = dict.fromkeys(row.printed for row in listed_colours(found.law, key, held.spelled, held.cas))
        if held.pct > 0 and key.startswith(_INDEX) and len(names) > 1:
            yield f"{held.spelled} is {' or '.join(names)}: its CAS number is not stated"


# --- The law of the United States as rows: the tables brought in (`us/*.csv`), read as `us/readings.toml` says


ROOM: Final = Path(__file__).with_name("us")
COLOURS, PROHIBITED, ACTIVES = "us-colours", "us-700", "us-otc"
TITLES: Final = {
    COLOURS: "US: colour additives for cosmetics, 21 CFR 73 subpart C and 74 subpart C",
    PROHIBITED: "US: cosmetics banned or limited by name, 21 CFR 700 subpart B and 250.250",
    ACTIVES: "US: active ingredients of drugs without prescription, by monograph",
}
TEXT: Final = "eCFR, April 2026; monographs as deemed final orders, September 2026"
INSIDE: Final = ("lip", "mouth", "anogenital")  # 21 CFR 70.3(v): what is not "externally applied"
MEMORY: Final = "from memory"
COMMENTARY: Final = "by commentary, the order itself was not read"
Line = dict[str, str]
_PREFIX: Final = late_pattern(r"^(?:Ext\. )?(?:FD&C|D&C) ")
_EFFECT: Final = late_pattern(r"in effect (\d{4}-\d{2}-\d{2})")
_SECTION: Final = late_pattern(r"21 CFR (.+?)(?: / (M\d+))?")


@lru_cache(maxsize=1)
def readings() -> dict[str, Any]:
    """Give `us/readings.toml`."""
    return tomllib.loads((ROOM / "readings.toml").read_text("utf-8"))


def table(name: str) -> list[Line]:
    """The lines of a table."""
    with (ROOM / f"{name}.csv").open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def rows_of(pack: str) -> list[LawRow]:
    """The rows of one of the packs of this file, their ids all different."""
    made = {COLOURS: _colours, PROHIBITED: _prohibited, ACTIVES: _actives}[pack]()
    taken: dict[str, int] = {}
    found = []
    for row in made:
        again = taken[row.id] = taken.get(row.id, 0) + 1
        found.append(row if again == 1 else replace(row, id=f"{row.id}-{again}"))
    return found


def _slug(text: str) -> str:
    return re.sub(r"[^a-z0-9]+", "-", text.casefold().replace("&", "")).strip("-")


def _scope(data: dict[str, list[str]] | None) -> Scope:
    return Scope(*(tuple(data.get(name, ())) for name in DIMENSIONS)) if data else EVERYTHING


def _row(pack: str, name: str, kind: str, line: Line, citation: str, **more: Any) -> LawRow:
    """A row of a line; what is from memory says so and warns."""
    note = more.pop("note", "")
    if line["checked"] == "memory":
        more = {"severity": "warn"} | more
        note = f"{note}; {MEMORY}" if note else MEMORY
    elif line["checked"] == "commentary" and kind == "active":
        note = COMMENTARY
    return LawRow(name, kind, pack, citation, line["checked"], note=note, **more)


def _named(row: LawRow, names: Iterable[str], cas: Iterable[str] = (), fold: Callable[[str], str] = law_key) -> LawRow:
    by_key: dict[str, str] = {}
    for name in filter(None, names):
        by_key.setdefault(fold(name), name)
    return replace(
        row, spelled=tuple(by_key.values()), names=tuple(by_key), cas=tuple(dict.fromkeys(filter(None, cas)))
    )


# ---------------------------------------------------------------------- colour additives


def label_name(name: str) -> str:
    """A colour's name as a label has it: without its prefix and "No." where it is a certified one.

    >>> label_name("Ext. D&C Violet No. 2"), label_name("FD&C Red No. 40"), label_name("Titanium dioxide")
    ('Ext. Violet 2', 'Red 40', 'Titanium Dioxide')
    """
    if not _PREFIX.match(name):
        return " ".join(word if word[:1].isupper() or "-" in word else word.capitalize() for word in name.split())
    extra = "Ext. " if name.startswith("Ext. ") else ""
    return extra + _PREFIX.sub("", name).replace("No. ", "")


def _colour_names(line: Line) -> list[str]:
    name, short = line["name"], label_name(line["name"])
    index = [one for one in line["ci"].split("; ") if one]
    first = readings()["colour"]["first_of"]
    index = [one for one in index if first.get(one, name) == name]
    found = [name, *readings()["colour"]["names"].get(name, ())]
    if line["batch_certified"] == "yes":
        bare = name.replace("No. ", "")
        found += [bare, short, *(f"{one} Lake" for one in (name, bare, short))]
    # a name that the inventory knows by this number alone is found by the number
    alone = {law_key(one) for one in index if one not in _shared()}
    return _and_nano(name, [*(one for one in found if law_key(one) not in alone), *index])


@lru_cache(maxsize=1)
def _shared() -> frozenset[str]:
    """The Colour Index numbers that several colours have."""
    numbers = [one for line in table("colour-additives") for one in line["ci"].split("; ") if one]
    return frozenset(one for one in numbers if numbers.count(one) > 1)


def _and_nano(name: str, names: list[str]) -> list[str]:
    return [*names, *(f"{one} (nano)" for one in names)] if name in readings()["actives"]["nano"] else names


def _colours() -> Iterator[LawRow]:
    numbered: set[str] = set()  # numbers of several colours: where they may go is said once, for all of them alike
    for line in table("colour-additives"):
        names, cas = _colour_names(line), line["cas"].split("; ")
        own = [name for name in names if name not in numbered]
        numbered.update(name for name in names if name.startswith("CI "))
        twofold = line["name"] in readings()["colour"]["also_no_colour"]
        for row in _of_colour(line):
            used = row if row.kind == "allowed" or not twofold else replace(row, function=COLORANT, unstated="warn")
            # by the name as it is written: D&C Blue No. 4 has the number of FD&C Blue No. 1, and no place near the eye
            yield _named(used, names if row.kind == "allowed" else own, cas, inci_key)


def _of_colour(line: Line) -> Iterator[LawRow]:
    reading, name = readings()["colour"], line["name"]
    own = f"us-colour-{_slug(name)}"
    limits = "" if line["limits"] == "generally" else line["limits"]
    if line["external"] == "no" and line["generally_and_lips"] == "no":
        yield _row(COLOURS, own, "prohibited", line, line["cfr"], note=limits)
        return
    yield _row(COLOURS, own, "allowed", line, line["cfr"], printed=label_name(name), words=limits)
    for mark, where, unless in _kept_out(line):
        yield _row(COLOURS, f"{own}-{mark}", "prohibited", line, line["cfr"], where=where, unless=unless, note=limits)
    if line["max_percent"]:
        most, where = Fraction(line["max_percent"]), _scope(reading["limit"].get(name))
        yield _row(COLOURS, f"{own}-limit", "limit", line, line["cfr"], at_most=most, where=where, note=limits)
    if line["batch_certified"] == "yes":
        words = "each batch is certified by FDA (21 CFR 80), and the lot's certificate is with it"
        yield _row(COLOURS, f"{own}-certified", "ask", line, line["cfr"], words=words)


def _kept_out(line: Line) -> Iterator[tuple[str, Scope, Scope]]:
    """Where a colour must not be: a mark for the row, the products, and those that are not meant."""
    reading, name = readings()["colour"], line["name"]
    if name in reading["only"]:
        yield "uses", EVERYTHING, _scope(reading["only"][name])
        if name in reading["professional"]:
            yield "professional", _scope(reading["only"][name]), Scope(user=("professional",))
        return
    if name in reading["not"]:
        yield "uses", _scope(reading["not"][name]), EVERYTHING
        return
    areas = [*(("eye",) if line["area_of_eye"] == "no" else ())]
    areas += INSIDE if line["generally_and_lips"] == "no" else ()
    if areas:
        yield "uses", Scope(area=tuple(areas)), EVERYTHING


# ---------------------------------------------------------------------- 21 CFR 700


def _prohibited() -> Iterator[LawRow]:
    for line in table("prohibited"):
        reading = readings()["prohibited"].get(line["substance"], {})
        if reading.get("left_out"):
            continue
        kind = "ask" if reading.get("ask") else "limit" if "at_most" in reading else "prohibited"
        section = _section(line["cfr"])
        row = _row(
            PROHIBITED,
            reading.get("id", f"us-{_slug(section.split('(')[0])}"),
            kind,
            line,
            line["cfr"],
            like=tuple(reading.get("like", ())),
            where=_scope(reading.get("where")),
            unless=_scope(reading.get("unless")),
            at_most=_fraction(reading.get("at_most", reading.get("trace"))),
            basis=reading.get("as", ""),
            note=line["condition"] if kind != "ask" else "",
            words=f"{line['substance'].casefold()}: {line['condition']}" if kind == "ask" else "",
        )
        names = (*(() if row.like else (line["substance"],)), *reading.get("names", ()))
        yield _named(row, names, (*line["cas"].split("; "), *reading.get("cas", ())))


def _section(citation: str) -> str:
    match = _SECTION.fullmatch(citation)
    return match[1] if match else citation


def _fraction(text: str | None) -> Fraction | None:
    return None if text is None else Fraction(text)


# ---------------------------------------------------------------------- monographs


def _actives() -> Iterator[LawRow]:
    for line in table("otc-actives"):
        whole = readings()["drug"][line["monograph"]]
        section = _section(line["cite"])
        reading = readings()["line"].get(section, {})
        aerosol = Scope(form=("aerosol",)) if "not aerosol" in line["condition"] else EVERYTHING
        effect = _EFFECT.search(line["condition"])
        row = _row(
            ACTIVES,
            reading.get("id", f"{whole['id']}-{_slug(line['active'])}"),
            "active",
            line,
            line["cite"],
            windows=((Fraction(line["min"] or 0), Fraction(line["max"] or 100)),),
            basis="F" if line["unit"] == "% F" else "",
            printed=line["active"],
            drug=line["monograph"],
            others=tuple(map(law_key, reading.get("with", ()))),
            where=_scope(reading.get("where", whole.get("where"))),
            unless=_scope(reading.get("unless")) if "unless" in reading else aerosol,
            placed=DateRange(datetime.date.fromisoformat(effect[1])) if effect else ALWAYS,
            words=line["condition"].strip("; "),
        )
        # as fluorine counts what is fluoride, whatever the monograph calls the solution
        names = [line["inci"]] if row.basis else [line["inci"], line["active"]]
        yield _named(row, _and_nano(line["active"], names), (line["cas"],))


def label_names() -> dict[str, str]:
    """What the label of the United States calls a substance, by folded INCI name."""
    return {law_key(name): printed for name, printed in readings()["label"].items()}


def drugs() -> dict[str, dict[str, Any]]:
    """The monographs: which products are such drugs, and whether with or without an active ingredient."""
    return {
        name: {
            "where": _scope(reading.get("where")),
            "always": reading.get("always", False),
            "also_cosmetic": reading.get("also_cosmetic", False),
        }
        for name, reading in readings()["drug"].items()
    }


def cosmetic_too() -> list[str]:
    """The folded names of active ingredients that are in cosmetics too."""
    return [law_key(name) for name in readings()["actives"]["also_cosmetic"]]

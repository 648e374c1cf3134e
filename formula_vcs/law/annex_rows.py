"""Annexes II to VI as rows: what the tables say, read as `readings.toml` says.

Run once, when the tables are compiled.  An entry that a pack holds by hand (`packs/eu-annex-*.toml`) gives no rows here
but hints: for the names that only an authority ties to it.
"""

from __future__ import annotations

import datetime
import re
from collections import defaultdict
from collections.abc import Container, Iterable, Iterator, Mapping
from fractions import Fraction
from functools import cached_property
from typing import Any, Final, NamedTuple

from formula_vcs.figures.ingredient_list import colour_index
from formula_vcs.law.annex_tables import AnnexNames, AnnexTables, Line, law_names, name_key, unique
from formula_vcs.law.identity import loose_key
from formula_vcs.law.pack_rows import ph_window
from formula_vcs.model.law_row import ALWAYS, DIMENSIONS, EVERYTHING, DateRange, LawRow, Scope
from formula_vcs.model.values import replace
from formula_vcs.words.late_pattern import late_pattern

LAW: Final = "Regulation (EC) No 1223/2009"
NANO: Final = " (nano)"
DYE: Final = {"oxidative": "oxidative hair dye", "non-oxidative": "non-oxidative hair dye"}
COLORANT, UV_FILTER, SCENT = "colorant", "UV filter", "fragrance"
SALTS: Final = ("free base", "sulfate", "hydrochloride")
_SALTS_TOO: Final = late_pattern(r"\b(its|their|and) (\w+ and )?salts\b", re.IGNORECASE)
_SALT: Final = late_pattern(r"\b(hcl|hydrochloride|dihydrochloride|sulfate|sulphate)\b", re.IGNORECASE)
# What names an allergen on the label: the pack of the allergens does that.
_NAMED: Final = late_pattern(r"The presence of the substance.*?rinse-off products\.?")
# What a function states, and no paper.
_PURPOSE: Final = late_pattern(
    r"For purposes other than inhibiting the development of micro-organisms.*?presentation[^.]*\."
)
# What says again, in the last column, the amount of a hair dye.
_MIXED: Final = late_pattern(
    r"^(As from [\w ]+: ?)?After mixing under oxidative conditions the maximum concentration applied to \w+ must not"
    r" exceed [\d,]+ %( ?\(?(calculated )?(as|in) [^).;]*\)?)*( or [\d,]+ % \([^)]*\))?[.;,]?\s*"
)
Where = tuple[Scope, Scope]
Entry = tuple[str, str]
_ANY: Final[Where] = (EVERYTHING, EVERYTHING)


class Filed(NamedTuple):
    """A row, and the keys under which it is looked up.

    Folded names, with ``^`` those that forget how they are spelt, and CAS numbers; ``=name`` where a salt of that name
    is of the entry too; ``~word`` for a word that makes a name one of a family, ``!name`` for one that is not.
    """

    row: LawRow
    keys: tuple[str, ...]


class AnnexRows:
    """The rows of all annexes; ``unread`` collects the phrases that no reading knows."""

    def __init__(self, tables: AnnexTables, held: Mapping[Entry, frozenset[str]], worded: Container[Entry]) -> None:
        """Take the tables, the entries that packs hold by hand with their keys, and those with words of the label."""
        self._tables = tables
        self._read = tables.readings
        self._held = held
        self._worded = worded
        self.unread: list[str] = []

    def __iter__(self) -> Iterator[Filed]:
        """Every row, in the order of the law."""
        entries = self._tables.entries
        for entry, lines in entries["ii"].items():
            yield from self._prohibited(entry, lines[0])
        for annex in ("iii", "v", "vi"):
            for entry, lines in entries[annex].items():
                yield from self._restricted(annex, entry, lines)
        for entry, lines in entries["iv"].items():
            yield from self._colour(entry, lines[0])
        yield from self._forms_together()

    def _by_hand(self, annex: str, entry: str) -> bool:
        return (annex, entry) in self._held

    def _row(self, annex: str, entry: str, kind: str, line: Line, *, mark: str = "", **more: Any) -> LawRow:
        tier = f"({line['tier']})" if line.get("tier") else ""
        cite = f"{LAW}, Annex {annex.upper()}/{entry}{tier}"
        placed, sold = (_from(line.get(key, "")) for key in ("placed", "sold"))
        name = joined(f"eu-{annex}-{entry}", mark)
        return LawRow(name, kind, f"eu-annex-{annex}", cite, line["checked"], placed=placed, sold=sold, **more)

    def _hints(self, annex: str, entry: str, line: Line) -> Iterator[Filed]:
        """What only an authority, or a shared number, ties to an entry: never more than a warning."""
        if entry in self._read["no_hints"].get(annex, ()):
            return
        found = self._tables.names[annex, entry]
        known = self._held.get((annex, entry), frozenset())
        # an entry by hand may lack a name that the tables surely have: that too is said, as a hint
        hinted = (*(found.sure if known else ()), *found.hinted)
        shared = found.shared if annex == "ii" and "(nano)" not in line["name"] else ()
        marks = [("hint", hinted, found.hinted_cas), ("shared", shared, ())]
        for mark, all_names, all_numbers in marks:
            names = [name for name in all_names if name_key(name) not in known]
            numbers = [number for number in all_numbers if number not in known]
            title = line["name"]
            if names or numbers:
                row = self._row(annex, entry, "hint", {**line, "tier": ""}, mark=mark, words=title, severity="warn")
                filed = _filed(replace(row, checked="data export"), names, ())
                yield Filed(filed.row, (*filed.keys, *numbers))

    # ------------------------------------------------------------------ Annex II

    def _prohibited(self, entry: str, line: Line) -> Iterator[Filed]:
        yield from self._hints("ii", entry, line)
        if self._by_hand("ii", entry):
            return
        title = line["name"]
        found = self._tables.names["ii", entry]
        row = self._as_condition(line, self._row("ii", entry, "prohibited", line, **_use(line["use"])))
        trace = self._read["trace"]["ii"].get(entry)
        unless = self._read["unless"]["ii"].get(entry, {})
        row = replace(row, at_most=Fraction(trace) if trace else None, unless=scope_of(unless))
        since = self._read["since"]["ii"].get(entry)
        if since:
            row = replace(row, placed=_from(since[0]), sold=_from(since[1]))
        names = (*found.sure, *law_names(title))
        yield _filed(row, names, found.cas, nano="(nano)" in title)
        if _SALTS_TOO.search(title):
            yield Filed(row, tuple(f"={name_key(name)}" for name in unique(names) if not is_salt(name)))
        if entry in self._read["family"]:
            family = self._read["family"][entry]
            words = (f"~{word}" for word in family["words"])
            yield Filed(row, (*words, *(f"!{name_key(name)}" for name in family.get("except", ()))))

    def _as_condition(self, line: Line, row: LawRow) -> LawRow:
        """The row as the entry's condition makes it: one that only papers can show asks and does not block."""
        condition = line["condition"]
        if condition.casefold().startswith(tuple(self._read["condition"]["ask"])):
            words = f"prohibited {condition}" if condition.startswith(("if", "except")) else line["name"]
            return replace(row, kind="ask", words=words)
        if condition.casefold().startswith(tuple(self._read["condition"]["warn"])):
            return replace(row, severity="warn", note=condition)
        return row

    # ------------------------------------------------------------------ Annexes III, V, VI

    def _restricted(self, annex: str, entry: str, lines: list[Line]) -> Iterator[Filed]:
        lines = [self._as_read(line) for line in lines]
        if any(line[key] for line in lines for key in ("max", "value", "other", "wording")):
            yield from self._hints(annex, entry, lines[0])
        found = self._tables.names[annex, entry]
        if self._by_hand(annex, entry):
            yield from self._label_of_hand_rows(annex, entry, lines)
            return
        nano = entry in self._read["nano"].get(annex, ())
        kind = "sum" if len(found.sure) > 1 else "limit"
        for row in self._tiers(annex, entry, lines):
            made = replace(row, kind=kind) if row.kind == "limit" else row
            yield from _by_form(made, found, nano=nano)

    def _as_read(self, line: Line) -> Line:
        """A tier without what another pack does, and with an amount only where it is one of the product."""
        other = _PURPOSE.sub("", _NAMED.sub("", line["other"])).strip()
        if line["value"]:
            other = _MIXED.sub("", other)
        if line["max"].startswith(tuple(self._read["no_amount"]["starts"])):
            return {**line, "value": "", "other": f"{line['max']}; {other}"}
        return {**line, "other": other}

    def _label_of_hand_rows(self, annex: str, entry: str, lines: list[Line]) -> Iterator[Filed]:
        """The words of the label of an entry whose rows by hand have none."""
        if (annex, entry) in self._worded:
            return
        found = self._tables.names[annex, entry]
        for line, mark in zip(lines, _marks(lines), strict=True):
            scope = self._scope(annex, entry, line, lines) if line["wording"] else None
            if scope is not None:
                where, unless = scope
                words = {"words": line["wording"], "where": where, "unless": unless}
                row = self._row(annex, entry, "warning", line, mark=joined(mark, "words"), **words)
                yield _filed(row, found.sure, found.cas)

    def _tiers(self, annex: str, entry: str, lines: list[Line]) -> Iterator[LawRow]:
        scopes = [self._scope(annex, entry, line, lines) for line in lines]
        for line, scope, mark in zip(lines, scopes, _marks(lines), strict=True):
            if scope is None:
                words = f"{line['product']}: {line['max'] or line['other']}".strip(": ")
                yield self._row(annex, entry, "ask", line, mark=joined(mark, "unread"), words=words)
                continue
            fixed = {"where": scope[0], "unless": scope[1], **self._function(annex, entry)}
            if line["value"]:
                yield from self._most(annex, entry, line, mark, fixed)
            yield from self._beside(annex, entry, line, mark, fixed)
        yield from self._forms_left_out(annex, entry, lines, scopes)
        yield from self._mixed_dyes(annex, entry, lines)
        yield from self._other_uses(annex, entry, lines, scopes)

    def _most(self, annex: str, entry: str, line: Line, mark: str, fixed: dict[str, Any]) -> Iterator[LawRow]:
        most = {
            "at_most": percent(line["value"], line["unit"]),
            "basis": self._basis(annex, entry, line),
            "mixed": _after_mixing(line),
        }
        yield self._row(annex, entry, "limit", line, mark=mark, **fixed, **most)
        if fixed.get("function") == UV_FILTER and not self._colours_too(entry):
            other = fixed | {"function": "", "unless_function": UV_FILTER, "unstated": "", "severity": "warn"}
            note = "that is its limit as a UV filter; its stated function is another one"
            yield self._row(annex, entry, "limit", line, mark=joined(mark, "other"), note=note, **other, **most)

    def _function(self, annex: str, entry: str) -> dict[str, Any]:
        """The function that an entry is about: a UV filter that is a colorant too is one where it says so."""
        if annex != "vi" or entry in self._read["any_function"]["vi"]:
            return {}
        return {"function": UV_FILTER, "unstated": "warn" if self._colours_too(entry) else ""}

    def _colours_too(self, entry: str) -> bool:
        return not self._colours.isdisjoint(self._tables.names["vi", entry].cas)

    @cached_property
    def _colours(self) -> set[str]:
        names = self._tables.names.items()
        return {number for (annex, _), found in names if annex == "iv" for number in found.cas}

    def _basis(self, annex: str, entry: str, line: Line) -> str:
        own: str = self._read["basis"].get(f"{annex}/{entry}", "")
        spelled = {"sulphate": "sulfate", "tetrahydrochloride": "hydrochloride"}.get(line["basis"], line["basis"])
        return own or (spelled if spelled in SALTS else "")

    def _beside(self, annex: str, entry: str, line: Line, mark: str, fixed: dict[str, Any]) -> Iterator[LawRow]:
        """What a tier says beside its amount: where it must not be, its pH, papers, words of the label."""
        for phrase, must in self._read["must"].items():
            if phrase in line["other"]:
                yield from self._must(annex, entry, line, mark, must, fixed)
        if line["other"]:
            yield self._row(annex, entry, "ask", line, mark=joined(mark, "papers"), words=line["other"], **fixed)
        if line["wording"]:
            yield self._row(annex, entry, "warning", line, mark=joined(mark, "words"), words=line["wording"], **fixed)

    def _must(  # noqa: PLR0917 - the parts of one line of the law
        self, annex: str, entry: str, line: Line, mark: str, must: dict[str, Any], fixed: dict[str, Any]
    ) -> Iterator[LawRow]:
        if "ph" in must:
            yield self._row(annex, entry, "ph", line, mark=joined(mark, "ph"), ph=ph_window(must["ph"]), **fixed)
            return
        for dimension, words in must.items():
            own = fixed | {"where": fixed["where"]._replace(**{dimension: tuple(words)})}
            yield self._row(annex, entry, "prohibited", line, mark=joined(mark, "not", dimension), **own)

    def _forms_left_out(
        self, annex: str, entry: str, lines: list[Line], scopes: list[Where | None]
    ) -> Iterator[LawRow]:
        """The limit of "other products" for the sprays that the tier of their kind of product leaves out."""
        rest = next((line for line in lines if line["product"] == "Other products" and line["value"]), None)
        known = [(scope, mark) for scope, mark in zip(scopes, _marks(lines), strict=True) if scope is not None]
        for (where, unless), mark in known if rest is not None else ():
            if not unless.form or where == EVERYTHING or rest is None:
                continue
            kept = EVERYTHING
            for other, but in (scope for scope, _ in known):
                kept = kept if but.form or other == EVERYTHING else _union(kept, other)
            most = percent(rest["value"], rest["unit"])
            own = {"where": where._replace(form=unless.form), "unless": kept, **self._function(annex, entry)}
            yield self._row(annex, entry, "limit", rest, mark=joined(mark, "other-form"), at_most=most, **own)

    def _mixed_dyes(self, annex: str, entry: str, lines: list[Line]) -> Iterator[LawRow]:
        """The limits of a hair dye that does not say whether it is an oxidative one: above both, above one."""
        most = {
            self._reading(line)["dye"]: (percent(line["value"], line["unit"]), line)
            for line in lines
            if "dye" in self._reading(line) and line["value"]
        }
        if len(most) < len(DYE):
            return
        own: dict[str, Any] = {"where": Scope(type=("hair dye",)), "unless": Scope(type=tuple(DYE.values()))}
        low, high = sorted(most.values(), key=lambda pair: pair[0])
        basis = self._basis(annex, entry, high[1])
        plain = {**high[1], "tier": ""}
        own["mixed"] = _after_mixing(high[1])
        yield self._row(annex, entry, "limit", plain, mark="dye", at_most=high[0], basis=basis, **own)
        if low[0] < high[0]:
            note = "say whether it is an oxidative or a non-oxidative hair dye"
            fixed = {"at_most": low[0], "basis": basis, "severity": "warn", "note": note, **own}
            yield self._row(annex, entry, "limit", plain, mark="dye-which", **fixed)

    def _other_uses(self, annex: str, entry: str, lines: list[Line], scopes: list[Where | None]) -> Iterator[LawRow]:
        """The row that what an entry allows in some products only is not allowed in others (Article 14(1))."""
        known = [scope for scope in scopes if scope is not None]
        if len(known) < len(scopes) or any(self._open(line) for line in lines):
            return
        if annex == "iii" and self._listed_elsewhere(entry):
            return
        if any(where == EVERYTHING and unless != EVERYTHING for where, unless in known):
            merged = EVERYTHING
            for _, unless in known:
                merged = _union(merged, unless)
            for dimension, words in zip(DIMENSIONS, merged, strict=True):
                if words:
                    where = EVERYTHING._replace(**{dimension: words})
                    mark = joined("not", dimension)
                    yield self._row(annex, entry, "prohibited", lines[0], mark=mark, where=where)
            return
        unless = EVERYTHING
        for where, _ in known:
            unless = _union(unless, where)
        own = self._function(annex, entry)
        if entry in self._read["uses_in_doubt"].get(annex, ()):
            own["severity"] = "warn"
        yield self._row(annex, entry, "prohibited", {**lines[0], "tier": ""}, mark="uses", unless=unless, **own)
        for where, but in known:
            for dimension in ("form", "area"):
                words = getattr(but, dimension)
                if words and len(known) == 1:
                    own_scope = where._replace(**{dimension: words})
                    mark = joined("not", dimension)
                    yield self._row(annex, entry, "prohibited", lines[0], mark=mark, where=own_scope, **own)

    def _open(self, line: Line) -> bool:
        return not line["product"] or line["product"] == "Other products" or bool(self._reading(line).get("any_use"))

    def _listed_elsewhere(self, entry: str) -> bool:
        """Say whether another entry says what becomes of a substance of Annex III in other products.

        That is one of Annex II, which bans it there, or one of Annexes III to VI, which may allow it.
        """
        found = self._tables.names["iii", entry]
        own = found.keys.union(map(name_key, found.shared))
        others = (found for of, found in self._tables.names.items() if of != ("iii", entry))
        return any(not own.isdisjoint(found.keys) for found in others)

    def _reading(self, line: Line) -> dict[str, Any]:
        found: dict[str, Any] = self._read["product"].get(line["product"], {})
        return found

    def _scope(self, annex: str, entry: str, line: Line, lines: list[Line]) -> Where | None:
        """Which products a tier is about (where, unless); None where no reading knows its words."""
        if not line["product"]:
            return _ANY
        if line["product"] == "Other products":
            unless = EVERYTHING
            for other in lines:
                scope = _ANY if other is line else self._scope(annex, entry, other, lines)
                unless = _union(unless, scope[0] if scope is not None else EVERYTHING)
            return EVERYTHING, unless
        reading = self._reading(line)
        if not reading:
            self.unread.append(f"Annex {annex.upper()}/{entry}: '{line['product']}'")
            return None
        if "dye" in reading:
            return self._dye(reading["dye"], lines)
        return scope_of(reading.get("where", {})), scope_of(reading.get("unless", {}))

    def _dye(self, kind: str, lines: list[Line]) -> Where:
        """The scope of a hair dye: where the entry has one kind only, a dye that states none is of it."""
        kinds = {self._reading(other).get("dye") for other in lines} - {None}
        if len(kinds) > 1:
            return Scope(type=(DYE[kind],)), EVERYTHING
        rest = tuple(word for name, word in DYE.items() if name != kind)
        return Scope(type=("hair dye",)), Scope(type=rest)

    # ------------------------------------------------------------------ Annex IV

    def _colour(self, entry: str, line: Line) -> Iterator[Filed]:
        if self._by_hand("iv", entry):
            return
        found = self._tables.names["iv", entry]
        index = (f"CI {number}" for number in re.findall(r"\d{5}", line["ci"]))
        alike = (name for name in found.shared if not colour_index(name))
        names = (*index, *found.sure, *alike, *(part for part in re.split(r" ?/ ?|; |, ", line["inci"]) if part))
        own: dict[str, Any] = {"function": COLORANT, "unstated": "none"}
        nano = entry in self._read["nano"]["iv"]
        for row in (self._row("iv", entry, "allowed", line, **own), *self._colour_rows(entry, line, own)):
            yield _filed(row, names, found.cas, nano=nano)

    def _colour_rows(self, entry: str, line: Line, own: dict[str, Any]) -> Iterator[LawRow]:
        if line["value"]:
            where = Scope(area=("lip",)) if "lip products" in line["max"] else EVERYTHING
            most = percent(line["value"], line["unit"])
            yield self._row("iv", entry, "limit", line, mark="limit", at_most=most, where=where, **own)
        reading = self._read["class"].get(line["class"].split()[0], {})
        if reading:
            allowed, barred = (scope_of(reading.get(key, {})) for key in ("unless", "where"))
            yield self._row("iv", entry, "prohibited", line, mark="uses", where=barred, unless=allowed, **own)
        words = "; ".join(word for word in (line["wording"], line["other"]) if word)
        for phrase, must in self._read["must"].items():
            if phrase in words:
                spray = scope_of(must)
                yield self._row("iv", entry, "prohibited", line, mark="not-form", where=spray, function=COLORANT)
        if words:
            yield self._row("iv", entry, "ask", line, mark="papers", words=words, **own)

    # ------------------------------------------------------------------ forms of one substance

    def _forms_together(self) -> Iterator[Filed]:
        """The sums of a UV filter and its nano form."""
        for plain, nano in self._read["together"]["vi"].items():
            if plain in self._tables.entries["vi"]:
                line = self._tables.entries["vi"][plain][0]
                names = [name for name in self._tables.names["vi", plain].sure if not name.endswith(NANO)]
                most = percent(line["value"], line["unit"])
                row = self._row("vi", plain, "sum", line, mark=nano, at_most=most, **self._function("vi", plain))
                row = replace(row, citation=f"{LAW}, Annex VI/{plain} and {nano}")
                yield _filed(row, (*names, *(name + NANO for name in names)), ())


def _from(day: str) -> DateRange:
    return DateRange(datetime.date.fromisoformat(day)) if day else ALWAYS


def _after_mixing(line: Line) -> bool:
    """Say whether an amount is of what is mixed for use: hair dyes on the head, artificial nails."""
    return line["column"] == "h" or "after mixing" in line["max"].casefold() if "column" in line else False


def _use(use: str) -> dict[str, Any]:
    """What the use of an entry of Annex II means: a ban for hair dyes, or as a fragrance, binds only there."""
    if use == "hair dye":
        return {"where": Scope(type=("hair dye",))}
    if use == "hair and eyelash dye":
        return {"where": Scope(type=("hair dye", "eyelash dye"))}
    return {"function": SCENT, "unstated": "warn"} if use == "fragrance" else {}


def _filed(row: LawRow, names: Iterable[str], cas: Iterable[str], *, nano: bool = False) -> Filed:
    """A row with its names, and its keys; those of a nano form carry its suffix, a colloid is one by its name."""
    mark, names = NANO if nano else "", tuple(names)
    colloids = (name for name in names if name.casefold().startswith("colloidal "))
    marked = (name if name.casefold().endswith(NANO) else name + mark for name in names)
    spelled = unique((*marked, *colloids))
    keys, numbers = tuple(map(name_key, spelled)), tuple(cas)
    made = replace(row, spelled=spelled, names=keys, cas=() if nano else numbers)
    loose = (f"^{loose_key(name)}" for name in spelled)
    return Filed(made, (*keys, *loose, *(number + mark for number in numbers)))


def _by_form(row: LawRow, found: AnnexNames, *, nano: bool) -> Iterator[Filed]:
    """A row, in two where it counts a salt or a free base and its names are of both.

    A base weighs more as its salt, a salt less as its base: what is over as it stands is surely over in the first case.
    """
    if row.basis not in SALTS:
        yield _filed(row, found.sure, found.cas, nano=nano)
        return
    own = [name for name in found.sure if is_salt(name) == (row.basis != "free base")]
    other = [name for name in found.sure if name not in own]
    yield _filed(replace(row, basis=""), own, found.cas, nano=nano)
    if other:
        note = f"the law counts it as {row.basis}, this is as it stands"
        plain = replace(row, id=joined(row.id, "as-it-stands"), basis="", note=note)
        yield _filed(replace(plain, severity="warn") if row.basis == "free base" else plain, other, ())


def _marks(lines: list[Line]) -> list[str]:
    """The tiers' letters as parts of an id, each its own."""
    seen: dict[str, int] = defaultdict(int)
    found = []
    for line in lines:
        mark = re.sub(r"[^a-z0-9]+", "-", line["tier"].casefold()).strip("-")
        seen[mark] += 1
        found.append(joined(mark, str(seen[mark]) if seen[mark] > 1 else ""))
    return found


def _union(one: Scope, other: Scope) -> Scope:
    return Scope(*(unique((*mine, *its)) for mine, its in zip(one, other, strict=True)))


def is_salt(name: str) -> bool:
    """Say whether a name is that of a hydrochloride or a sulfate."""
    return bool(_SALT.search(name))


def scope_of(data: dict[str, list[str]]) -> Scope:
    """The scope that a reading writes as a table."""
    return Scope(**{name: tuple(data[name]) for name in DIMENSIONS if name in data})


def percent(value: str, unit: str) -> Fraction:
    """An amount of the tables in % w/w."""
    return Fraction(value) / {"%": 1, "ppm": 10_000, "mg/kg": 10_000}[unit]


def joined(*marks: str) -> str:
    """Join the parts of an id."""
    return "-".join(mark for mark in marks if mark)

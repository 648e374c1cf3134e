"""What may be in a product at all: substances prohibited, lists of what alone is allowed, colours in the United
States.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import ClassVar, Final

from formula_vcs.figures.ingredient_list import colour_index
from formula_vcs.law.compliance import ApplicableRow, Compliance, in_force, parts_of, substances_of
from formula_vcs.law.functions import COLORANT, PRESERVATIVE, UV_FILTER, has_function
from formula_vcs.law.limit_use import amount, percent
from formula_vcs.law.us_rows import COLOURS, listed_colours
from formula_vcs.model.facts import Path
from formula_vcs.model.finding import Finding, Severity
from formula_vcs.model.ingredient import Ingredient
from formula_vcs.model.law_row import LawRow
from formula_vcs.rules.law.claim import place_of
from formula_vcs.rules.rule import Case, Rule

# --- What rules have in common that speak for the rows of packs


PACKS = "the row of the pack that the finding names"


class PackRule(Rule):
    """A rule that is many rows of data; each finding carries its row's citation and can be accepted by its id.

    ``of_rows`` says that nothing but rows about this kind of product makes its findings.
    """

    source = PACKS
    acceptable = True
    legal = True
    of_rows: ClassVar[bool] = True

    def of_row(
        self,
        case: Case,
        row: LawRow,
        message: str,
        at: Path,
        subject: str,
        *,
        severity: Severity | None = None,
    ) -> Finding:
        """Word a finding of a row: its subject is the row and the substances, its source the row's citation."""
        level = severity or (row.severity if self.severity == "block" else self.severity)
        return Finding(
            self.id,
            level,
            message,
            case.recipe.file,
            at=at,
            recipe=case.recipe.id,
            source=row.source,
            subject=f"{row.id}/{subject}",
        )


# --- Nothing is in the product that its markets prohibit


def beyond_trace(found: Compliance, hit: ApplicableRow) -> bool:
    """Say whether the declared traces of what a row prohibits come to more than it lets an unavoidable trace be.

    All of the row's traces together, counted as its basis; where one is not known as that, as it stands.
    """
    row = hit.row
    if row.at_most is None:
        return False
    keys = [key for key in hit.keys if key in found.traces]
    counted = amount(found, keys, row.basis)
    used = amount(found, keys, "").used if counted.unknown else counted.used
    return used > row.at_most


class Prohibited(PackRule):
    """A recipe holds nothing that the law of its markets prohibits, in this kind of product, on that day.

    Why: a prohibited substance is often a trace in a bought material, or one that was allowed last year.  Some are
    prohibited in some products only: nothing of Annex V/57 in what stays on the skin.  Two preservatives that may
    not stand together are said here too.  What is declared as an impurity is judged by `trace`.
    """

    id = "prohibited"

    def check(self, case: Case) -> Iterator[Finding]:
        """Say every substance that must not be there."""
        found = case.finished
        if found is None:
            return
        for hit in in_force(found, case.day):
            if hit.row.kind == "prohibited":
                yield from self._of(case, found, hit)
            elif hit.row.kind == "together":
                yield from self._together(case, found, hit)

    def _of(self, case: Case, found: Compliance, hit: ApplicableRow) -> Iterator[Finding]:
        row = hit.row
        for key in hit.keys:
            if key in found.traces and not beyond_trace(found, hit):
                continue
            scoped = row.where != type(row.where)() or row.unless != type(row.unless)()
            where = f" in {found.a_product}" if scoped else ""
            note = f"; {row.note}" if row.note else ""
            name = f"{found.spelled(key)} ({percent(found.totals[key].pct)}){found.by_number(key, row)}"
            words = f"{name} is prohibited{where} by {row.citation}{note}"
            if row.at_most is not None and key in found.traces:
                words = f"{words}; {percent(row.at_most)} is what an unavoidable trace may come to"
            yield self.of_row(case, row, words, found.main_charge([key]), key)

    def _together(self, case: Case, found: Compliance, hit: ApplicableRow) -> Iterator[Finding]:
        row = hit.row
        for other in row.others:
            if other in found.totals and found.totals[other].pct > 0:
                names = " + ".join(found.spelled(key) for key in hit.keys)
                words = f"{names} and {found.spelled(other)} must not be used together ({row.citation})"
                yield self.of_row(case, row, words, found.main_charge(hit.keys), other)


# --- Lists of what alone is allowed: colorants, UV filters, preservatives


_ARTICLE: Final = "Regulation (EC) No 1223/2009, Article 14(1)"
# Colouring the hair is no use of Annex IV as long as the Commission has not said so (Article 14(2)).
_HAIR: Final = frozenset({"hair dye"})
# Fillers and carriers of pigments, some of which have a colour index number and no entry of Annex IV (common practice):
# they are no colorants, so the function that is stated is what is in doubt.
_FILLERS: Final = frozenset(
    {"mica", "ci 77019", "talc", "ci 77718", "silica", "ci 77811", "synthetic fluorphlogopite",
     "calcium sodium borosilicate", "tin oxide", "ci 77861",
     "calcium aluminum borosilicate", "nylon-12", "boron nitride"}
)  # fmt: skip


class PositiveList(Rule):
    """A colorant is one of Annex IV, a UV filter one of Annex VI.

    Why: for these two the law lists what is allowed, and everything else is not (Article 14(1)(c) and (e)).  A material
    that states the function holds at least one substance of the list; a colour index number is a colorant whatever
    its material states.  Dyes that colour the hair are outside (Article 14(2)).

    Not so:
        functions = ["UV filter"]
        [substances]
        "Menthyl Anthranilate" = 100
    """

    id = "positive-list"
    source = _ARTICLE
    acceptable = True
    legal = True

    def check(self, case: Case) -> Iterator[Finding]:
        """Look for colorants and UV filters that no list has."""
        found = case.finished
        if found is None or "EU" not in found.markets or found.product is None:
            return
        colours = _HAIR.isdisjoint(found.product.types)
        for name, material in _materials(case):
            if has_function(material, UV_FILTER):
                if not _listed(found, material, "eu-annex-vi"):
                    yield self._of_material(case, material, name, UV_FILTER)
                continue
            if not colours:
                continue
            strange = {
                key: held.spelled
                for key, held in parts_of(material).items()
                if colour_index(key) and not found.listed(key, held, "eu-annex-iv")
            }
            for key, spelled in strange.items():
                words = f"{spelled} is no colorant of Annex IV ({_ARTICLE}(c))"
                level: Severity = "warn" if key in _FILLERS else "block"
                yield self.say(case, words, place_of(case, material), subject=f"{name}/{key}", severity=level)
            if not strange and has_function(material, COLORANT) and not _listed(found, material, "eu-annex-iv"):
                yield self._of_material(case, material, name, COLORANT)

    def _of_material(self, case: Case, material: Ingredient, name: str, function: str) -> Finding:
        annex, letter = ("VI", "e") if function == UV_FILTER else ("IV", "c")
        words = (
            f"'{name}' is a {function} and holds none of Annex {annex}, which lists all that are allowed "
            f"({_ARTICLE}({letter})): if it is there for something else, state that function"
        )
        fills = function == COLORANT and set(parts_of(material)) <= _FILLERS
        level: Severity = "warn" if fills else "block"
        return self.say(case, words, place_of(case, material), subject=f"{name}/{function}", severity=level)


class PreservativeUnlisted(Rule):
    """A material that is there to preserve holds a preservative of Annex V, or says what it is there for.

    Why: only preservatives of Annex V are allowed (Article 14(1)(d)).  Many materials that help to keep a product are
    there for something else, mainly: a humectant, a solvent, a chelator, a perfume.  That is what their `functions`
    have to say, and the product file too; a warning, since the recipe cannot tell.

    So:
        functions = ["humectant"]           # Pentylene Glycol, which makes preservatives work better
    """

    id = "preservative-unlisted"
    severity = "warn"
    source = f"{_ARTICLE}(d)"
    acceptable = True

    def check(self, case: Case) -> Iterator[Finding]:
        """Look for preservatives that Annex V does not have."""
        found = case.finished
        if found is None or "EU" not in found.markets:
            return
        for name, material in _materials(case):
            if has_function(material, PRESERVATIVE) and not _listed(found, material, "eu-annex-v"):
                words = (
                    f"'{name}' states that it is a preservative and holds none of Annex V, which lists all that are "
                    f"allowed ({_ARTICLE}(d)): what is it there for, mainly (humectant, solvent, chelator ...)?"
                )
                yield self.say(case, words, place_of(case, material), subject=name)


def _materials(case: Case) -> Iterator[tuple[str, Ingredient]]:
    for name, share in case.sums.leaves.items():
        material = case.formula.ingredients.get(name)
        if material is not None and share > 0 and material.substances:
            yield name, material


def _listed(found: Compliance, material: Ingredient, pack: str) -> bool:
    """Say whether anything in a material, impurities aside, has a row of a list."""
    return any(found.listed(key, held, pack) for key, held in parts_of(material).items())


# --- Colours for the United States are listed there


class UsColour(PackRule):
    """A colour of a product for the United States is one that 21 CFR 73 subpart C or 74 subpart C lists.

    Why: every colour additive has to be listed, an unlisted one makes the product adulterated, and the list is not
    Europe's: CI 15585 and beetroot are not on it, mica is.  Asked are substances called by a Colour Index number, and
    what a material whose function is colorant mostly is; a mineral that only fills or opacifies says so by its
    functions.  Where a listed colour may go, and how much of it, is said by 'prohibited' and 'limit'.  Coal-tar hair
    dyes need no listing (21 U.S.C. 361(a), from memory), so hair dyes are not asked.
    """

    id = "us-colour"
    of_rows = False
    source = "21 CFR 70.3, 73 subpart C and 74 subpart C"

    def check(self, case: Case) -> Iterator[Finding]:
        """Look every colour up."""
        found = case.finished
        if found is None or "US" not in found.markets or found.product is None or "hair dye" in found.product.types:
            return
        for key in _colours(found):
            held = found.totals[key]
            if listed_colours(found.law, key, held.spelled, held.cas) or _banned(found, key):
                continue
            words = (
                f"{held.spelled} ({percent(held.pct)}) is a colour, and none that is listed for cosmetics in the "
                "United States (21 CFR 73 C, 74 C); if it is there for something else, its material's functions say so"
            )
            yield self.say(case, words, found.main_charge([key]), subject=key)


def _banned(found: Compliance, key: str) -> bool:
    """Say whether a row speaks of the colour already."""
    return any(hit.row.pack == COLOURS and hit.row.kind == "prohibited" and key in hit.keys for hit in found.hits)


def _colours(found: Compliance) -> list[str]:
    """The folded names of what is in the product as a colour."""
    keys: dict[str, None] = {}
    for name in found.sums.leaves:
        material = found.formula.ingredients.get(name)
        if material is None:
            continue
        for_colour = has_function(material, COLORANT)
        for key, held in substances_of(material).items():
            colours = (for_colour and held.pct > 50) or colour_index(key)
            if colours and key in found.totals and found.totals[key].pct > 0:
                keys[key] = None
    return list(keys)

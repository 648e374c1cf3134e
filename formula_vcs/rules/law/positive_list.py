"""Lists of what alone is allowed: colorants, UV filters, preservatives."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from formula_vcs.figures.ingredient_list import colour_index
from formula_vcs.law.compliance import Compliance, parts_of
from formula_vcs.law.functions import COLORANT, PRESERVATIVE, UV_FILTER, has_function
from formula_vcs.model.finding import Finding, Severity
from formula_vcs.model.ingredient import Ingredient
from formula_vcs.rules.law.certificate import place_of
from formula_vcs.rules.rule import Case, Rule

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

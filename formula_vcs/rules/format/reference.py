"""What files say of other files: references that lead nowhere, and premixes that hold themselves."""

from __future__ import annotations

from collections.abc import Iterator
from functools import partial
from operator import eq

from formula_vcs.model.finding import Finding
from formula_vcs.model.ingredient import Ingredient
from formula_vcs.rules.rule import FORMAT, Case, Rule
from formula_vcs.toml.takers import nearest

# --- Everything that is named exists


_MOST_HINTS = 50  # the nearest name is searched for among all, and nobody reads ten thousand


class Reference(Rule):
    """Every ingredient, premix, phase, charge, vessel, piece of equipment and packaging that a recipe names exists.

    Why: a name that leads nowhere is a misspelling or a file that somebody removed, and what it stood for is
    missing from every sum.

    Not so:
        xantham-gum = 0.30          # the file is ingredients/xanthan-gum.toml
    """

    id = "reference"
    source = FORMAT

    def check(self, case: Case) -> Iterator[Finding]:
        """Look every name up."""
        yield from self._charges(case)
        for step in case.recipe.steps:
            if step.mixer is not None and step.mixer not in case.formula.shelf.equipment:
                hint = nearest(step.mixer, case.formula.shelf.equipment)
                words = f"step '{step.id}', mixer: no equipment is called '{step.mixer}'{hint}"
                yield self.say(case, words, (*step.path, "mixer"), on_value=True)
        pack = case.recipe.packaging
        if pack is not None and pack not in case.formula.shelf.packaging:
            words = f"no packaging is called '{pack}'{nearest(pack, case.formula.shelf.packaging)}"
            yield self.say(case, words, ("packaging",), on_value=True)
        for trouble in case.sums.walk.troubles:
            if trouble.rule == self.id:
                message = trouble.message + self._hint(case, trouble.subject)
                yield self.say(case, message, trouble.at, subject=trouble.subject)

    @staticmethod
    def _hint(case: Case, subject: str) -> str:
        """Name the nearest phase or charge for a step's word that names none; the subject ends with that word."""
        for verb in ("/add/", "/adjust/"):
            _, found, name = subject.partition(verb)
            if found:
                known = [charge.key for charge in case.recipe.charges] if "/" in name else list(case.recipe.phases)
                return nearest(name, known)
        return ""

    def _charges(self, case: Case) -> Iterator[Finding]:
        here = {charge.ingredient for charge in case.recipe.charges}
        hints = _MOST_HINTS
        for charge in case.recipe.charges:
            name = f"phase {charge.phase}, '{charge.ingredient}'"
            found = case.formula.ingredients.get(charge.ingredient)
            if found is None:
                hint = nearest(charge.ingredient, case.formula.shelf.ingredients) if hints > 0 else ""
                if hints == _MOST_HINTS and not hint:
                    hint = f"; 'git formula new ingredient' begins ingredients/{charge.ingredient}.toml"
                hints -= 1
                yield self.say(case, f"{name}: no such ingredient{hint}", charge.path)
            rebuilt = charge.more.get("rebuilds")
            if isinstance(rebuilt, str) and rebuilt not in here:
                hint = nearest(rebuilt, here)
                words = f"{name}: it rebuilds '{rebuilt}', which is no charge of this recipe{hint}"
                yield self.say(case, words, (*charge.path, "rebuilds"), on_value=True)


class PremixReference(Rule):
    """The recipe that a premix ingredient is made by exists.

    Why: without it nobody knows what the material consists of.
    """

    id = "premix-reference"
    source = FORMAT

    def check(self, case: Case) -> Iterator[Finding]:
        """Look up the recipe behind every premix that this recipe uses."""
        for name, found in case.formula.ingredients.items():
            if found.recipe is not None and not self._known(case, found):
                hint = nearest(found.recipe, case.formula.shelf.recipes)
                words = f"'{name}' is made by recipe '{found.recipe}', and there is no such recipe{hint}"
                at = case.place_of(partial(eq, found))
                yield self.say(case, words, at, subject=name)

    @staticmethod
    def _known(case: Case, found: Ingredient) -> bool:
        return found.recipe in case.formula.premixes or found.recipe in case.formula.shelf.recipes


# --- No premix contains itself


class Cycle(Rule):
    """No premix contains itself, however deep.

    Why: a recipe that is an ingredient of itself has no composition.
    """

    id = "premix-cycle"

    def check(self, case: Case) -> Iterator[Finding]:
        """Say every closed chain."""
        for chain in case.formula.cycles:
            words = f"the premixes go round in a circle: {' -> '.join(chain)}"
            at = case.place_of(lambda found, chain=chain: found.recipe in chain)  # type: ignore[misc]
            yield self.say(case, words, at, subject="/".join(sorted(set(chain))))

"""A material stays inside the share that the papers of its supplier allow."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from formula_vcs.law.limit_use import PRACTICE_TOLERANCE, percent
from formula_vcs.law.max_use import ANY, MaxUse, max_uses, stated_uses, use_source
from formula_vcs.law.packs_in_force import type_names
from formula_vcs.model.finding import Finding, Severity
from formula_vcs.model.ingredient import Ingredient
from formula_vcs.model.law_row import CONTACTS
from formula_vcs.rules.rule import Case, Rule
from formula_vcs.toml.takers import nearest

_STATED: Final = "[max_use] of the material's file"
_MOST_NAMED: Final = 4


class MaximumUse(Rule):
    """A material does not exceed the share of the product that its file allows.

    Why: a fragrance is sold with a certificate of the share that may be used in each kind of product, an active with
    the share up to which it was tested.  No law has these numbers, so they stand in the material's file, in % of the
    finished product.  They hold for the material from every source together, through premixes, and with every charge
    kept for adjusting at its `at_most`.  A product of a kind that the file does not name is no free ticket: the
    supplier is to be asked, and a warning says so.

    Not so:
        [max_use]
        "hand cream" = 0.80             # and 1.00 % in a hand cream

    So:
        [max_use]
        "hand cream" = { at_most = 0.80, source = "certificate of conformity RA-7, 2026-02" }
        "rinse-off"  = 2.00
    """

    id = "max-use"
    source = _STATED
    judges = "both"
    acceptable = True

    def check(self, case: Case) -> Iterator[Finding]:
        """Compare the share of every such material with what is allowed."""
        if case.recipe.is_premix:
            return
        for use in max_uses(case.compliance):
            at = case.place_of(lambda one, wanted=use.material.id: one.id == wanted)  # type: ignore[misc]
            said = self._over(use, case.compliance.a_product)
            if said is not None:
                words, severity = said
                yield self.say(case, words, at, subject=use.material.id, severity=severity)

    def _over(self, use: MaxUse, product: str) -> tuple[str, Severity] | None:
        amount, name = use.amount, use.material.id
        if use.allowed is None:
            stated = stated_uses(use.material)
            known = [f"{one} {percent(share)}" for one, share in list(stated.items())[:_MOST_NAMED]]
            known += [f"{len(stated) - _MOST_NAMED} more"] if len(stated) > _MOST_NAMED else []
            words = (
                f"'{name}', {percent(amount.used)}: its file states the most that may be used in other products "
                f"({', '.join(known)}), and nothing for {product}: ask the supplier"
            )
            return words, "warn"
        source = use_source(use.material, use.meant)
        limit = f"{percent(use.allowed)} is the most for {use.meant}" + (f" ({source})" if source else "")
        if amount.used > use.allowed:
            return f"'{name}': {percent(amount.used, use.allowed)}; {limit}", "block"
        if amount.adjusted > use.allowed:
            most = percent(amount.adjusted, use.allowed)
            return (
                f"'{name}': {percent(amount.used)}, and {most} with every adjustment at its 'at_most'; {limit}",
                "block",
            )
        if amount.worst > use.allowed and amount.used < use.allowed:
            worst = amount.stated if amount.stated > use.allowed else amount.worst
            by = "" if amount.stated > use.allowed else f" inside the {PRACTICE_TOLERANCE}"
            words = (
                f"'{name}': {percent(amount.used)}; only the nominal amount keeps to it, {limit}: the worst weighing "
                f"comes to {percent(worst, use.allowed)}{by}"
            )
            return words, "warn" if amount.stated > use.allowed else "note"
        return None

    def check_ingredient(self, ingredient: Ingredient) -> Iterator[Finding]:
        """Say where a file names a product that there is not, as the number would then count for nothing."""
        known = (*CONTACTS, ANY, *sorted(type_names()))
        for name in stated_uses(ingredient):
            if name not in known:
                hint = nearest(name, known) or f'; write a type of product, {", ".join(CONTACTS)} or "{ANY}"'
                words = f"[max_use]: there is no product called '{name}'{hint}"
                yield self.say_of(ingredient, words, ("max_use", name), severity="block")

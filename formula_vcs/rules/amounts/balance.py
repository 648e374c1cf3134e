"""Exactly one balance, or none."""

from __future__ import annotations

from collections.abc import Iterator

from formula_vcs.model.finding import Finding
from formula_vcs.rules.rule import Case, Rule


class Balance(Rule):
    """At most one charge is the balance ("to 100").

    Why: the balance takes what is left.  Two of them have no amounts that anybody could know.

    Not so:
        water   = "to 100"
        hydrosol = "to 100"

    So:
        water    = "to 100"
        hydrosol = 20.00
    """

    id = "balance"

    def check(self, case: Case) -> Iterator[Finding]:
        """Say every balance after the first."""
        first, *others = case.sums.composition.balances or (None,)
        for charge in others:
            assert first is not None  # noqa: S101 - there are others only after a first
            words = (
                f"phase {charge.phase}, '{charge.ingredient}': a second balance; "
                f"phase {first.phase}, '{first.ingredient}' fills up to {first.amount} already"
            )
            yield self.say(case, words.replace("up to to ", "up to "), charge.path, on_value=True)

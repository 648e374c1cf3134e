"""The certificates of what a recipe uses are valid."""

from __future__ import annotations

import datetime
from collections.abc import Iterator

from formula_vcs.model.facts import Path
from formula_vcs.model.finding import Finding
from formula_vcs.model.ingredient import Ingredient
from formula_vcs.rules.rule import COMMON_PRACTICE, Case, Rule


class CertificateExpired(Rule):
    """No certificate of an ingredient has expired on the day.

    Why: an organic share counts while its certificate is valid; a supplier who has not renewed it may have lost it.
    A warning by itself; a claim that needs the certificate then needs information.
    """

    id = "certificate-expired"
    severity = "warn"
    source = COMMON_PRACTICE
    acceptable = True

    def check(self, case: Case) -> Iterator[Finding]:
        """Compare the end of every certificate with the day."""
        for name in case.sums.leaves:
            material = case.formula.ingredients.get(name)
            if material is None:
                continue
            for scheme, number, ended in expired(material, case.day):
                at = place_of(case, material)
                words = f"'{name}': its certificate {number} ({scheme}) ended on {ended}"
                yield self.say(case, words, at, subject=f"{name}/{number}")


def place_of(case: Case, material: Ingredient) -> Path:
    """Give the path of the charge that brings a material."""
    return case.place_of(lambda other: other is material)


def expired(material: Ingredient, day: datetime.date) -> Iterator[tuple[str, str, datetime.date]]:
    """Give the scheme, number and last day of the certificates that have ended and have no later one."""
    rows: dict[str, dict[str, object]] = {}
    for path, value in material.facts.items():
        if len(path) == 3 and path[0] == "certificate":
            rows.setdefault(path[1], {})[path[2]] = value
    best: dict[str, tuple[datetime.date, str]] = {}
    for row in rows.values():
        end = row.get("valid_to")
        last = end if isinstance(end, datetime.date) else datetime.date.max
        scheme = str(row.get("scheme", "no scheme stated"))
        best[scheme] = max(
            best.get(scheme, (datetime.date.min, "")), (last, str(row.get("number", "without a number")))
        )
    for scheme, (last, number) in best.items():
        if last < day:
            yield scheme, number, last

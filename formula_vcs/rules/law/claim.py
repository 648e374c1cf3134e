"""Claims and certificates: what a pack promises, and what proves it."""

from __future__ import annotations

import datetime
from collections.abc import Iterator
from typing import Final

from formula_vcs.figures.standards import ClaimOutcome, Verdict
from formula_vcs.law.claims.contents import CONTENT
from formula_vcs.law.claims.free_from import FREE
from formula_vcs.law.claims.proved import needed
from formula_vcs.law.claims.table import RESTS_ON
from formula_vcs.law.duty_table import table_of
from formula_vcs.model.facts import Path
from formula_vcs.model.finding import Finding
from formula_vcs.model.ingredient import Ingredient
from formula_vcs.rules.rule import COMMON_PRACTICE, Case, FileRule, Rule

# --- What a recipe claims is so


STANDARDS: Final = {
    "cosmos-organic-4": "COSMOS-standard, edition 4",
    "cosmos-natural-4": "COSMOS-standard, edition 4",
    "nop-organic": "7 CFR 205.301(b), 205.302",
    "nop-made-with": "7 CFR 205.301(c), 205.302",
    "nsf-305": "NSF/ANSI 305",
    "fr-natural": "ARPP, Produits cosmetiques, version 8",
    "fr-natural-origin": "ARPP, Produits cosmetiques, version 8",
    "vegan": "no law or standard: the sources that the files state",
    "at-organic": "Codex Alimentarius Austriacus, 6.3.2, 6.4.1, 6.4.2",
}


class _Claims(Rule):
    """What both rules about claims have in common."""

    verdict: Verdict
    acceptable = True

    def check(self, case: Case) -> Iterator[Finding]:
        """Judge every claim, and word those of this rule's verdict."""
        if not case.recipe.claims or case.recipe.is_premix:
            return
        for claim in case.claims:
            if claim.verdict == self.verdict:
                rests = f" [{RESTS_ON[claim.claim]}]" if claim.claim in RESTS_ON else ""
                yield self._claimed(
                    case, claim, f"claim '{claim.claim}' {self.verb}: {claim.because}{_missing(case, claim)}{rests}"
                )

    verb = ""

    def _claimed(self, case: Case, claim: ClaimOutcome, words: str) -> Finding:
        own = case.recipe.own_claims.get(claim.claim, "")
        found = self.say(case, words, ("claim" if own else "claims", claim.claim), subject=claim.claim)
        kind, table = needed(claim.claim, own), table_of(case.formula.workspace)
        proved = table.work(kind).source if kind in table.works else ""
        standard = proved or ("" if kind else _standard(claim.claim)) or self.source
        return Finding(
            found.rule, found.severity, found.message, found.file, at=found.at, recipe=found.recipe,
            source=standard, subject=found.subject,
        )  # fmt: skip


def _standard(claim: str) -> str:
    """Name what a claim is judged by; nothing for a claim that nobody knows."""
    if CONTENT.fullmatch(claim):
        return "ISO 16128-2:2017"
    if claim not in STANDARDS and FREE.fullmatch(claim):
        return "no law or standard: our own lists of names"
    return STANDARDS.get(claim, "")


def _missing(case: Case, claim: ClaimOutcome) -> str:
    """Say which facts a claim waits for, each with the supplier who can say it."""
    if not claim.missing:
        return ""
    first = "; ".join(map(case.formula.whom_to_ask, claim.missing[:6]))
    more = len(claim.missing) - 6
    return f". Missing: {first}{f' and {more} more' if more > 0 else ''}"


class ClaimFails(_Claims):
    """A claim that a recipe states holds by its standard.

    Why: one conventional oil in place of an organic one, bought because the other was out of stock, and a certificate
    is gone.  Gates come before percentages: what a standard forbids no percentage heals.

    So:
        claims = ["natural-origin at least 95 %", "cosmos-organic-4"]
    """

    id = "claim-fails"
    verdict = "fails"
    verb = "fails"
    source = "the standard that the claim names"


class ClaimInformation(_Claims):
    """What is needed to judge a claim is there.

    Why: a missing share never passes and never counts as nothing.  Where the missing facts cannot change the verdict,
    the verdict is given; where they can, this says which facts they are, and of which material.
    """

    id = "claim-information"
    severity = "warn"
    verdict = "needs information"
    verb = "needs information"
    source = "the standard that the claim names"


class ClaimProof(FileRule):
    """What proves a claim covers the recipe as it stands.

    Why: a sun protection factor was measured on one version; with less filter, or another emulsifier, it is a number on
    the pack that nobody measured.  The recipe is measured against the version that the proof is about, by the table of
    duties: a warning where the proof is to be made anew, a note where somebody has to decide.

    So:
        claims = ["SPF 30"]                 # evidence/*.toml: kind = "spf-test", value = 34.2

        [claim]
        "hydrates for 24 hours" = "efficacy"
    """

    id = "claim-proof"
    severity = "warn"
    source = "Regulation (EC) No 1223/2009, Article 11(2)(d) (proof of the effect claimed: from memory)"


class ExtractData(Rule):
    """An extract in a recipe with a claim states its indices or shares, or its making.

    Why: the natural and organic share of an extract hangs on plant, solvent and water; nothing in its INCI name says
    them.

    So:
        [made]
        part      = "leaf"
        dry_plant = "5 kg"
        water     = "110 kg"
        extract   = "100 kg"
        organic   = true
    """

    id = "extract-data"
    severity = "warn"
    source = "ISO 16128-2:2017, Annex B"
    acceptable = True

    def check(self, case: Case) -> Iterator[Finding]:
        """Look for extracts about which nothing is known."""
        if not case.recipe.claims or case.recipe.is_premix:
            return
        for name, share in case.sums.leaves.items():
            material = case.formula.ingredients.get(name)
            if material is None or not share or not any("extract" in key for key in material.inci):
                continue
            tables = {path[0] for path in material.facts}
            if tables.isdisjoint({"origin", "cosmos", "made", "nop"}):
                at = place_of(case, material)
                words = f"'{name}' is an extract and states neither its indices and shares nor its making ([made])"
                yield self.say(case, words, at, subject=name)


# --- The certificates of what a recipe uses are valid


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
    """The path of the charge that brings a material."""
    return case.place_of(lambda other: other is material)


def expired(material: Ingredient, day: datetime.date) -> Iterator[tuple[str, str, datetime.date]]:
    """The scheme, number and last day of the certificates that have ended and have no later one."""
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

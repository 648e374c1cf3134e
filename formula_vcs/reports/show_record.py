"""One recipe or ingredient as JSON, by the schema show.json."""

from __future__ import annotations

from typing import Any

from formula_vcs.figures.breakdown import Breakdown
from formula_vcs.figures.composition import ChargeShare
from formula_vcs.figures.figure import Figure
from formula_vcs.law.max_use import use_source
from formula_vcs.reports.document.data import as_data as record_data
from formula_vcs.reports.findings import finding_record
from formula_vcs.reports.label import listed
from formula_vcs.reports.sheets import IngredientSheet, RecipeSheet, RevisionShown, facts_of
from formula_vcs.reports.uses import use_record
from formula_vcs.words.numbers import exact_text


def recipe(sheet: RecipeSheet) -> dict[str, Any]:
    """Give a recipe as the schema has it."""
    own = sheet.recipe
    return {
        "recipe": own.id,
        **_moment(sheet.moment),
        "title": own.title,
        "product": own.product,
        "for": own.get("for"),
        "spray": own.get("spray"),
        "hydroalcoholic": own.get("hydroalcoholic", bool),
        "mixed": own.get("mixed"),
        "area": list(own.names["area"]),
        "markets": list(own.names["markets"]),
        "batch": _text(sheet.terms.batch or sheet.formula.batch),
        "pack": _text(own.pack),
        "as_of": sheet.terms.day.isoformat(),
        "charges": [_charge(line) for line in sheet.sums.composition.lines],
        "conversions": [
            {
                "charge": conversion.charge.key,
                "volume": conversion.volume,
                "density": conversion.density,
                "kg": exact_text(conversion.mass),
            }
            for conversion in sheet.sums.composition.conversions
        ],
        "substances": substances(sheet.sums),
        "figures": {name: _figure(figure) for name, figure in sheet.figures.items()},
        "limits": [
            {
                "row": use.row.id,
                "substances": [sheet.sums.names[key][0] if key in sheet.sums.names else key for key in use.keys],
                "as": use.row.basis,
                "used": exact_text(use.amount.used),
                "adjusted": exact_text(use.amount.adjusted),
                "worst": exact_text(use.amount.worst),
                "allowed": exact_text(use.allowed),
                "state": use.state,
                "source": use.row.citation,
                "checked": use.row.checked,
            }
            for use in sheet.limits
        ],
        "max_use": [
            {
                "ingredient": use.material.id,
                "used": exact_text(use.amount.used),
                "adjusted": exact_text(use.amount.adjusted),
                "worst": exact_text(use.amount.worst),
                "product": use.meant,
                "allowed": None if use.allowed is None else exact_text(use.allowed),
                "source": use_source(use.material, use.meant),
            }
            for use in sheet.max_uses
        ],
        "claims": {
            claim.claim: {"verdict": claim.verdict, "because": claim.because, "missing": list(claim.missing)}
            for claim in sheet.claims
        },
        "label": [] if sheet.label is None else record_data(listed(sheet.label)),
        "findings": [finding_record(finding) for finding in sheet.findings],
    }


def ingredient(sheet: IngredientSheet) -> dict[str, Any]:
    """Give an ingredient as the schema has it."""
    own = sheet.ingredient
    price = sheet.price
    chosen = None if isinstance(price, str) else price
    return {
        "ingredient": own.id,
        **_moment(sheet.moment),
        "title": own.title,
        "supplier": own.get("supplier"),
        "code": own.get("code"),
        "functions": list(own.functions),
        "density": _text(own.density),
        "premix": own.recipe,
        "as_of": sheet.terms.day.isoformat(),
        "substances": substances(sheet.sums) if sheet.sums is not None else _stated(sheet),
        "origin": facts_of(own, "origin"),
        "handling": facts_of(own, "handling"),
        "price": {
            "per_kg": None if chosen is None else exact_text(chosen.per_kg),
            "currency": None if chosen is None else chosen.currency,
            "chosen": None if chosen is None else str(chosen.price),
            "missing": [] if chosen is not None else [str(price)],
        },
        "prices": [str(price) for price in own.prices],
        "used": [record_data(use_record(item)) for item in sheet.used],
        "findings": [finding_record(finding) for finding in sheet.findings],
    }


def substances(sums: Breakdown) -> list[dict[str, Any]]:
    """Give the substances of a formula, the largest share first."""
    ordered = sorted(sums.substances.items(), key=lambda item: (-item[1], sums.names[item[0]][0]))
    return [
        {"inci": sums.names[key][0], "cas": sums.names[key][1] or None, "pct": exact_text(pct)} for key, pct in ordered
    ]


def _stated(sheet: IngredientSheet) -> list[dict[str, Any]]:
    own = sheet.ingredient
    return [
        {"inci": inci, "cas": own.get("substances", inci, "cas"), "pct": exact_text(held.middle)}
        | ({} if held.least == held.most else {"range": [exact_text(held.least), exact_text(held.most)]})
        for inci, held in own.held.items()
    ]


def _moment(moment: RevisionShown) -> dict[str, Any]:
    return {"revision": moment.revision, "commit": moment.commit, "file": moment.file}


def _charge(line: ChargeShare) -> dict[str, Any]:
    charge = line.charge
    return {
        "phase": charge.phase,
        "ingredient": charge.ingredient,
        "pct": exact_text(line.pct),
        "balance": charge.balance,
        "amount": None if charge.amount is None else charge.amount.text,
    }


def _figure(figure: Figure) -> dict[str, Any]:
    return {
        "value": None if figure.value is None else exact_text(figure.value),
        "unit": figure.unit,
        "missing": list(figure.missing),
        "basis": list(figure.basis),
        "estimate": figure.estimate,
        "range": None if figure.span is None else [exact_text(end) for end in figure.span],
    }


def _text(value: object) -> str | None:
    return None if value is None else str(value)

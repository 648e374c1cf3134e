"""Small products made of one substance and water, judged by the packs."""

from __future__ import annotations

import datetime
from collections.abc import Iterable, Mapping
from decimal import Decimal
from fractions import Fraction
from typing import Any

from formula_vcs.figures.breakdown import Breakdown
from formula_vcs.law.packs_in_force import product, product_names
from formula_vcs.model.finding import Finding
from formula_vcs.model.formula import Formula
from formula_vcs.model.law_row import LawRow, Product
from formula_vcs.model.product import completed
from formula_vcs.rules.judge import judge
from formula_vcs.rules.registry import OF_LAW
from formula_vcs.workspace.snapshot import Files, Snapshot

DAY = datetime.date(2026, 11, 24)
HEAD = 'title = "x"\n'


def material(substances: Mapping[str, object], more: str = "", head: str = "") -> str:
    """Write an ingredient."""
    lines = [f'"{name}" = {share}' for name, share in substances.items()]
    return "\n".join(['title = "x"', head, "[substances]", *lines, more, ""])


def formula(  # noqa: PLR0917 - a small product, from left to right
    charges: Mapping[str, object],
    materials: Mapping[str, str],
    product_type: str,
    markets: Iterable[str] = ("EU",),
    more: str = "",
    workspace: str = "",
    premixes: Mapping[str, str] | None = None,
) -> Formula:
    """Make a product of some charges, the rest water."""
    lines = [f"{name} = {amount}" for name, amount in charges.items()]
    listed = ", ".join(f'"{market}"' for market in markets)
    text = f'title = "x"\nproduct = "{product_type}"\nmarkets = [{listed}]\n{more}\n[phase.A.charge]\n'
    files = {
        "workspace.toml": f'title = "x"\n{workspace}',
        "r.toml": text + 'water = "to 100"\n' + "\n".join(lines) + "\n",
        "ingredients/water.toml": material(
            {"Aqua": 100}, "[cosmos]\nwater = 100\n[nop]\nleft_out = 100\norganic = 0\n"
        ),
        **{f"ingredients/{name}.toml": written for name, written in materials.items()},
        **{f"{name}.toml": written for name, written in (premixes or {}).items()},
    }
    with Snapshot(Files(files)) as snapshot:
        recipe = snapshot.recipe("r")
        assert recipe is not None
        return snapshot.formula(recipe)


def found(of: Formula, day: datetime.date = DAY) -> list[Finding]:
    """Judge by the packs."""
    return judge(of, day, Breakdown(of), OF_LAW)


def said(of: Formula, day: datetime.date = DAY) -> list[tuple[str, str, str]]:
    """Give rule, severity and row of what blocks or warns."""
    return [(f.rule, f.severity, f.subject.split("/")[0]) for f in found(of, day) if f.severity != "note"]


def type_for(row: LawRow) -> str | None:
    """Give a product type that a row is about."""
    for name in product_names():
        kind = product(name)
        if isinstance(kind, Product) and kind.under(row):
            return name
    return None


HEADERS: dict[str, dict[str, Any]] = {
    "": {},
    'spray = "aerosol"\n': {"spray": "aerosol"},
    'for = "professional use"\n': {"made_for": "professional use"},
    "hydroalcoholic = true\n": {"hydroalcoholic": True},
}


def headed_for(row: LawRow) -> tuple[str, str] | None:
    """Give a product type that a row is about, and what its recipe's header has to say besides."""
    for header, stated in HEADERS.items():
        for name in product_names():
            kind = product(name)
            if isinstance(kind, Product) and completed(kind, **stated).under(row):
                return name, header
    return None


def text(value: Fraction) -> str:
    """Write an amount with all the digits that a charge takes."""
    return f"{Decimal(value.numerator) / Decimal(value.denominator):.15f}"

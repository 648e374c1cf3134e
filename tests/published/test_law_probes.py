"""Small recipes that each break one rule of the law, and ordinary products that break none.

``law/probes.txt`` quotes the law beside each recipe, ``law/legal.txt`` has some seventy products of all kinds.
"""

from __future__ import annotations

import datetime
import re
from pathlib import Path

import pytest

from formula_vcs.model.finding import Finding
from tests.published.helpers_law import DAY, formula, found, material

LAW = Path(__file__).parent / "law"


def _lines(name: str) -> list[list[str]]:
    text = (LAW / name).read_text("utf-8")
    return [[cell.strip() for cell in line.split(" | ")] for line in text.splitlines() if line and line[0] != "#"]


def _cites(finding: Finding, law: str) -> bool:
    return bool(re.search(rf"{re.escape(law)}(?![\da-z])", f"{finding.source} {finding.message}"))


@pytest.mark.parametrize("probe", _lines("probes.txt"), ids=lambda probe: f"{probe[0]} in {probe[3]}, {probe[6]}")
def test_a_probe(probe: list[str]) -> None:
    name, cas, amount, product, function, day, severity, law = probe
    bare = name.removesuffix(" (nano)")
    parts = ["pct = 100", *(["nano = true"] if bare != name else []), *([f'cas = "{cas}"'] if cas else [])]
    it = material({bare: f"{{ {', '.join(parts)} }}"}, head=f'functions = ["{function}"]')
    findings = found(formula({"it": amount}, {"it": it}, product), datetime.date.fromisoformat(day))
    said = {finding.severity for finding in findings if _cites(finding, law)}

    if severity == "none":
        assert not said & {"block", "warn"}
    elif severity == "block":
        assert "block" in said
    else:
        assert said & {severity}
        assert "block" not in said


def test_as_many_probes_as_there_were() -> None:
    assert 64 <= len(_lines("probes.txt"))
    assert 60 <= len(_lines("legal.txt"))


@pytest.mark.parametrize("product", _lines("legal.txt"), ids=lambda product: f"{product[0]}: {product[1][:40]}")
def test_an_ordinary_product_is_not_blocked(product: list[str]) -> None:
    kind, listed = product
    parts = [re.fullmatch(r"(.+) = ([\d.]+) \((.+)\)", part) for part in listed.split("; ")]
    names = {f"m{number}": part for number, part in enumerate(parts) if part is not None}
    assert len(parts) == len(names)
    materials = {key: material({part[1]: 100}, head=f'functions = ["{part[3]}"]') for key, part in names.items()}
    of = formula({key: part[2] for key, part in names.items()}, materials, kind)

    assert [] == [finding.message for finding in found(of, DAY) if finding.severity == "block"]

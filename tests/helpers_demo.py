"""The demo workspace in memory, with edits."""

from __future__ import annotations

import datetime
from collections.abc import Mapping
from pathlib import Path

from formula_vcs.figures.breakdown import Breakdown
from formula_vcs.model.finding import Finding
from formula_vcs.model.formula import Formula
from formula_vcs.rules.judge import judge
from formula_vcs.rules.registry import OF_PROCESS, RULES
from formula_vcs.workspace.snapshot import Files, Snapshot

RECIPES = Path(__file__).resolve().parents[1] / "recipes"
DAY = datetime.date(2026, 6, 1)
PROCESS = (
    *OF_PROCESS,
    *(RULES[name] for name in ("equipment-data", "step-values", "preservative-window", "free-acid")),
)

Edit = tuple[str, str, str]


def texts(*edits: Edit, more: Mapping[str, str] | None = None) -> dict[str, str]:
    """Give the demo's files with edits ``(file, old text, new text)``, each of which must fit."""
    found = {p.relative_to(RECIPES).as_posix(): p.read_text("utf-8") for p in sorted(RECIPES.rglob("*.toml"))}
    for file, old, new in edits:
        assert old in found[file], f"'{old}' is not in {file}"
        found[file] = found[file].replace(old, new, 1)
    return found | dict(more or {})


def demo(recipe: str, *edits: Edit, more: Mapping[str, str] | None = None) -> Formula:
    """Give a recipe of the demo."""
    snapshot = Snapshot(Files(texts(*edits, more=more)))
    found = snapshot.recipe(recipe)
    assert found is not None
    return snapshot.formula(found)


def sums(recipe: str, *edits: Edit) -> Breakdown:
    """Give the sums of a recipe of the demo."""
    return Breakdown(demo(recipe, *edits))


def said(of: Formula) -> list[Finding]:
    """Judge the process of a recipe."""
    return judge(of, DAY, rules=PROCESS)


def step(text: str, name: str) -> str:
    """Give the text of one step of a recipe."""
    start = text.index(f'[[step]]\nid    = "{name}"')
    end = text.find("\n[[step]]", start + 1)
    end = text.find("\n[spec]", start + 1) if end < 0 else end
    return text[start : end + 1]

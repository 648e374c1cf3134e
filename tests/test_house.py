"""The house keeps to its own habits: one name for one thing, and no cache that nobody sees."""

from __future__ import annotations

import ast
from collections import Counter
from pathlib import Path

PACKAGE = Path(__file__).resolve().parents[1] / "formula_vcs"


def _modules() -> dict[Path, ast.Module]:
    return {path: ast.parse(path.read_text("utf-8")) for path in sorted(PACKAGE.rglob("*.py"))}


def test_no_class_name_stands_twice() -> None:
    names = Counter(node.name for tree in _modules().values() for node in tree.body if isinstance(node, ast.ClassDef))

    assert {} == {name: count for name, count in names.items() if count > 1}


def test_nobody_puts_a_key_into_the_dictionary_of_a_value() -> None:
    found = [
        f"{path.relative_to(PACKAGE)}:{node.lineno}"
        for path, tree in _modules().items()
        for node in ast.walk(tree)
        if isinstance(node, ast.Attribute) and node.attr == "__dict__"
    ]

    assert [] == found


def test_only_these_say_by_name_that_a_text_is_html() -> None:
    """Everywhere else text is escaped by its type: who comes into this list writes tags by hand, and says so."""
    expected = [
        "reports/document/markup.py", "reports/manual/html.py", "reports/page/control_chart.py",
        "reports/page/frame.py", "reports/page/strip_plot.py", "reports/weigh_sheet/html.py",
        "reports/weigh_sheet/refused.py",
    ]  # fmt: skip
    found = {
        path.relative_to(PACKAGE).as_posix()
        for path, tree in _modules().items()
        for node in ast.walk(tree)
        if isinstance(node, ast.Call) and isinstance(node.func, ast.Name) and node.func.id == "Markup"
    }

    assert expected == sorted(found)


def test_no_module_keeps_a_dictionary_that_grows() -> None:
    """What is kept belongs to a store, to a value's own `Derived`, or to an `lru_cache` with a bound."""
    found = []
    for path, tree in _modules().items():
        names = {
            target.id
            for node in tree.body
            if isinstance(node, ast.Assign | ast.AnnAssign) and isinstance(node.value, ast.Dict) and not node.value.keys
            for target in (node.targets if isinstance(node, ast.Assign) else [node.target])
            if isinstance(target, ast.Name)
        }
        found += [
            f"{path.relative_to(PACKAGE)}:{node.lineno}"
            for function in ast.walk(tree)
            if isinstance(function, ast.FunctionDef)
            for node in ast.walk(function)
            if isinstance(node, ast.Subscript) and isinstance(node.ctx, ast.Store)
            if isinstance(node.value, ast.Name) and node.value.id in names
        ]

    assert [] == found

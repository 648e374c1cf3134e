"""Strict reading: all that is wrong with a file at once, each at its place, in the chemist's words.

The cases of single slips are in ``tests/rules/cases``; here stand what a file can hold all at once, and what somebody
hostile could write.
"""

from __future__ import annotations

import datetime
import time
from collections.abc import Callable, Mapping
from decimal import Decimal
from fractions import Fraction

import pytest

from formula_vcs.diff.diff import diff
from formula_vcs.evidence.judge_workspace import judge_workspace
from formula_vcs.figures.breakdown import Breakdown
from formula_vcs.figures.figure import Terms
from formula_vcs.figures.figure_table import figures
from formula_vcs.figures.ingredient_list import label
from formula_vcs.model.amount import Amount, Price
from formula_vcs.model.facts import Unread
from formula_vcs.model.finding import Finding
from formula_vcs.review.compare import compare
from formula_vcs.toml.ingredient_file import read_ingredient
from formula_vcs.toml.recipe_file import read_recipe
from formula_vcs.toml.syntax import parse
from formula_vcs.workspace.snapshot import Snapshot

MakeWorkspace = Callable[..., Snapshot]
DAY = datetime.date(2026, 6, 1)
TERMS = Terms(DAY)


def found(snapshot: Snapshot) -> list[Finding]:
    return [snapshot.place(finding) for finding in judge_workspace(snapshot, DAY)]


def at(findings: list[Finding]) -> set[str]:
    return {f"{finding.rule} {finding.file}:{finding.line}:{finding.column}" for finding in findings}


class Clock:
    """Fails where something takes longer than it may; the margin is for busy machines."""

    def __init__(self, seconds: float) -> None:
        self.seconds = seconds

    def __enter__(self) -> None:
        self.start = time.process_time()

    def __exit__(self, *_: object) -> None:
        assert time.process_time() - self.start < self.seconds


ALL_WRONG = """titel   = "Cream"
form    = "lotion"
markets = "EU, US"
pack    = "75 min"
batch   = 100

[phase.A.charge]
water       = "to 1000"
xantham-gum = 0.30
glycerin    = { pct = -4, at_mots = 5 }

[[step]]
id    = "mix"
add   = ["A"]
shear = "hihg"
time  = 8
temp  = "72 degc C"

[spec]
pH = "5.4 to 4.8"
"""


def test_all_problems_of_a_file_are_said_at_once(workspace: MakeWorkspace) -> None:
    gum = 'title = "Gum"\n[substances]\n"Xanthan Gum" = 100\n'
    findings = found(workspace({"cream.toml": ALL_WRONG, "ingredients/xanthan-gum.toml": gum}))
    expected = {
        "unknown-key cream.toml:1:1",
        "missing-value cream.toml:1:1",
        "bad-value cream.toml:2:1",
        "bad-quantity cream.toml:4:11",
        "bad-quantity cream.toml:5:11",
        "bad-quantity cream.toml:8:15",
        "reference cream.toml:9:1",
        "bad-quantity cream.toml:10:15",
        "unknown-key cream.toml:10:27",
        "bad-value cream.toml:15:1",
        "bad-quantity cream.toml:16:9",
        "bad-quantity cream.toml:17:9",
        "range-order cream.toml:20:6",
        "ph-step cream.toml:20:1",
    }

    assert expected <= at(findings)
    assert {"cream.toml"} == {finding.file for finding in findings}
    words = [finding.message for finding in findings]
    assert "phase A, 'xantham-gum': no such ingredient; did you mean 'xanthan-gum'?" in words
    assert "unknown key 'titel'; did you mean 'title'?" in words


def test_a_broken_file_hides_nothing_of_the_others(workspace: MakeWorkspace) -> None:
    findings = found(
        workspace(
            {
                "balm.toml": "title = \n[phase\n",
                "gel.toml": b'title = "G\xe9l"\n',
                "ingredients/oil.toml": 'title = "Oil"\n',
                "workspace.toml": 'title = "Shed"\ncurency = "EUR"\n',
                "cream.toml": 'title = "Cream"\n[phase.A.charge]\nwater = 99\n',
            }
        )
    )

    assert {
        "syntax balm.toml:1:9",
        "syntax balm.toml:2:7",
        "syntax gel.toml:1:11",
        "missing-value ingredients/oil.toml:1:1",
        "unknown-key workspace.toml:2:1",
        "total cream.toml:3:9",
        "no-process cream.toml:1:1",
        "preserved cream.toml:1:1",
    } == {place.replace("unreadable", "syntax") for place in at(findings)}


def test_columns_count_characters_not_bytes(workspace: MakeWorkspace) -> None:
    cream = 'title = "Crème"\n[phase."Öl".charge]\nwater = "to 100"\nglycerin = { note = "für später", pct = -1 }\n'

    assert "bad-quantity cream.toml:4:12" in at(found(workspace({"cream.toml": cream})))


@pytest.mark.parametrize(
    ("raw", "expected"),
    [
        ("4", Amount("percent", Decimal(4))),
        ("4.00", Amount("percent", Decimal(4))),
        ("1e1", Amount("percent", Decimal(10))),
        ('"to 100"', Amount("balance", Decimal(100))),
        ('"q.s."', Amount("open")),
        ('"q. s."', Amount("open")),
    ],
)
def test_amounts(raw: str, expected: Amount) -> None:
    facts = read_recipe(parse(f'title = "C"\n[phase.A.charge]\nwater = {raw}\n'.encode()).data)

    assert expected == facts["phase", "A", "charge", "water"]


def test_digits_are_kept_as_written() -> None:
    facts = read_recipe(parse(b'title = "C"\n[phase.A.charge]\nwater = 0.30\nsalt = 1e2\n').data)

    assert ["0.30 %", "100 %"] == [str(facts["phase", "A", "charge", name]) for name in ("water", "salt")]


@pytest.mark.parametrize(
    "raw", ["-1", "nan", "inf", "-inf", "1e10", "1e-40", "true", '"4,5"', '"5 %"', "[4]", "1979-05-27"]
)
def test_what_is_no_amount_is_kept_and_refused(raw: str) -> None:
    """The value stays among the facts, so that a diff sees it move."""
    facts = read_recipe(parse(f'title = "C"\n[phase.A.charge]\nwater = {raw}\n'.encode()).data)

    assert isinstance(facts["phase", "A", "charge", "water"], Unread)


@pytest.mark.parametrize(("key", "raw"), [("pack", "0 mL"), ("batch", "0 kg"), ("batch", "0.000 g")])
def test_nothing_is_no_pack_and_no_batch(key: str, raw: str, workspace: MakeWorkspace) -> None:
    words = f"'{key}': '{raw}' is nothing"
    text = f'title = "Cream"\n{key} = "{raw}"\n'

    assert words in [finding.message for finding in found(workspace({"cream.toml": text}))]


def test_the_order_and_the_spelling_of_prices_do_not_count() -> None:
    first = '[[price]]\ncost = "8.00 EUR/kg"\nfrom = "25 kg"\n'
    second = '[[price]]\ncost = "8.0 EUR/kg"\nfrom = "5 kg"\n'
    respelled = second + first.replace("8.00", "8.0").replace("25 kg", "0.025 t")
    sides = [
        read_ingredient(parse(f'title = "X"\n[substances]\n"X" = 100\n{rows}'.encode()).data)["price",]
        for rows in (first + second, respelled)
    ]

    assert sides[0] == sides[1]
    assert all(isinstance(price, Price) for price in sides[0])


@pytest.mark.parametrize(("raw", "expected"), [("0.85", "17/20"), ('"18/104"', "9/52"), ("1", "1"), ("0", "0")])
def test_indices(raw: str, expected: str) -> None:
    facts = read_ingredient(parse(f'title = "X"\n[substances]\n"X" = 100\n[origin]\nnatural = {raw}\n'.encode()).data)

    assert Fraction(expected) == facts["origin", "natural"]


@pytest.mark.parametrize("raw", ["1.01", "-0.1", '"0.85"', '"1/0"', '"2/1"', "nan", "true"])
def test_what_is_no_index(raw: str) -> None:
    facts = read_ingredient(parse(f'title = "X"\n[substances]\n"X" = 100\n[origin]\nnatural = {raw}\n'.encode()).data)

    assert isinstance(facts["origin", "natural"], Unread)


@pytest.mark.parametrize(
    "key", ['"step-order"', '""', '"a/b"', '"\\u001B[31m"', '"__class__"', '"step"', '"phase"', '"accept"']
)
def test_no_key_can_break_the_reader(key: str, workspace: MakeWorkspace) -> None:
    """Whatever the name of a key, and wherever it stands, there are findings and no crash."""
    for place in ("", "[phase.A]\n", "[phase.A.charge]\n", "[[step]]\nid = 'x'\n", "[spec]\n", "[[accept]]\n"):
        snapshot = workspace({"cream.toml": f"{place}{key} = [1, {{ a = 2 }}]\n"})
        recipe = snapshot.recipe("cream")

        assert found(snapshot)
        if recipe is not None:
            diff(snapshot.formula(recipe), snapshot.formula(recipe))


def many(count: int, line: str) -> str:
    return "".join(line.format(n) for n in range(count))


def recipe_of(count: int, step: str = "") -> str:
    return f'title = "Big"\n[phase.A.charge]\n{many(count, "x{} = 0.001" + chr(10))}{step}'


@pytest.mark.slow
def test_ten_thousand_charges_take_seconds(workspace: MakeWorkspace) -> None:
    """Every one of them unknown, so that each looks for its nearest name."""
    text = recipe_of(10_000, '[[step]]\nid = "mix"\nadd = ["A"]\n')
    with Clock(5):
        findings = found(workspace({"cream.toml": text, **some_ingredients(200)}))

    assert 10_000 <= len(findings)


def some_ingredients(count: int) -> Mapping[str, str]:
    return {f"ingredients/thing-{n}.toml": f'title = "T"\n[substances]\n"T{n}" = 100\n' for n in range(count)}


@pytest.mark.slow
def test_ten_thousand_other_charges_are_compared_in_seconds(workspace: MakeWorkspace) -> None:
    """Nothing of the one recipe is in the other, and every line could be another grade of every other."""
    grades = {
        f"ingredients/{side}{n}.toml": 'title = "T"\n[substances]\n"T" = 100\n' for side in "xy" for n in range(3000)
    }
    old, new = recipe_of(3000), recipe_of(3000).replace("x", "y")
    with Clock(20):
        done = compare(
            workspace({"cream.toml": old, **grades}), workspace({"cream.toml": new, **grades}), TERMS, findings=False
        )

    assert 3000 == len([change for change in done.reviews[0].changes if change.kind == "grade-swap"])


@pytest.mark.slow
def test_ten_thousand_steps_take_seconds(workspace: MakeWorkspace) -> None:
    steps = many(5000, '[[step]]\nid = "s{}"\nadd = ["A"]\nshear = "high"\n')
    with Clock(20):
        findings = found(workspace({"cream.toml": f'title = "C"\n[phase.A.charge]\nwater = 100\n{steps}'}))

    assert findings


@pytest.mark.slow
@pytest.mark.parametrize("depth", [200, 3000])
def test_premixes_nested_deep(depth: int, workspace: MakeWorkspace) -> None:
    """Water down to the bottom: what is there is seen through all of it."""
    files = {}
    for n in range(depth):
        inner = f"p{n + 1}" if n + 1 < depth else "glycerin"
        files[f"m{n}.toml"] = (
            f'title = "M"\nproduct = "premix"\n[phase.A.charge]\n{inner} = 100\n[[step]]\nid = "s"\nadd = ["A"]\n'
        )
        files[f"ingredients/p{n}.toml"] = f'title = "P"\nrecipe = "m{n}"\n'
    files["cream.toml"] = (
        'title = "Cream"\nproduct = "hand cream"\nmarkets = ["EU"]\nclaims = ["natural at least 5 %"]\n'
        '[phase.A.charge]\nwater = "to 100"\np0 = 40\n'
    )
    with Clock(20):
        snapshot = workspace(files)
        recipe = snapshot.recipe("cream")
        assert recipe is not None
        sums = Breakdown(snapshot.formula(recipe))

        assert {"Aqua": Fraction(60), "Glycerin": Fraction(40)} == {line.inci: line.pct for line in label(sums)}
        figures(sums, TERMS)


def test_a_premix_used_by_every_other_is_worked_out_once_each(workspace: MakeWorkspace) -> None:
    """Each of 60 premixes holds all the ones below it: 2^60 ways lead down, and none is walked twice."""
    files = {"cream.toml": 'title = "Cream"\n[phase.A.charge]\np59 = 100\n'}
    for n in range(60):
        inner = "".join(f"p{k} = 1\n" for k in range(n))
        files[f"m{n}.toml"] = f'title = "M"\namounts = "parts"\n[phase.A.charge]\nwater = 1\n{inner}'
        files[f"ingredients/p{n}.toml"] = f'title = "P"\nrecipe = "m{n}"\n'
    with Clock(10):
        snapshot = workspace(files)
        recipe = snapshot.recipe("cream")
        assert recipe is not None

        assert {"water": 1} == Breakdown(snapshot.formula(recipe)).leaves


def test_a_circle_of_premixes_ends_in_findings(workspace: MakeWorkspace) -> None:
    head = 'title = "Cream"\nproduct = "hand cream"\nmarkets = ["EU", "US"]\n'  # judged by the law too
    files = {"cream.toml": head + '[phase.A.charge]\nwater = "to 100"\np0 = 5\n'}
    for n in range(50):
        files[f"m{n}.toml"] = f'title = "M"\n[phase.A.charge]\nwater = "to 100"\np{(n + 1) % 50} = 50\n'
        files[f"ingredients/p{n}.toml"] = f'title = "P"\nrecipe = "m{n}"\n'
    snapshot = workspace(files)
    recipe = snapshot.recipe("cream")
    assert recipe is not None
    known = figures(Breakdown(snapshot.formula(recipe)), TERMS)

    assert {"premix-cycle"} == {finding.rule for finding in found(snapshot) if finding.severity == "block"}
    assert "m0: the premix contains itself" in known["natural"].missing


@pytest.mark.parametrize(
    "text",
    [
        "title = " + "[" * 100_000,
        'title = "' + "a" * 1_000_000 + '"',
        "a." * 50_000 + "b = 1",
        "x = " + "9" * 500_000,
        'title = "C"\n[phase.A.charge]\nwater = 1e999999999\n',
        "=" * 100_000,
        "[[step]]\n" * 20_000,
    ],
    ids=["brackets", "a long title", "a long key", "a long number", "an exponent", "signs", "steps without anything"],
)
@pytest.mark.slow
def test_hostile_texts_end_in_findings(text: str, workspace: MakeWorkspace) -> None:
    with Clock(15):
        findings = found(workspace({"cream.toml": text}))

    assert findings


def test_names_with_control_bytes_are_findings(workspace: MakeWorkspace) -> None:
    """Whoever prints them makes them harmless; here they only have to come through."""
    cream = 'title = "C\\u001B[2J"\n[phase."\\u001B]0;x\\u0007".charge]\n"\\u202Egnp.exe" = 5\nwater = "to 100"\n'

    assert "reference" in {finding.rule for finding in found(workspace({"cream.toml": cream}))}

"""A swap compares two materials: what their files state differently, and the demands that went with it."""

from __future__ import annotations

import datetime
from collections.abc import Callable

import pytest

from formula_vcs.figures.figure import Terms
from formula_vcs.review.compare import Review, compare
from formula_vcs.review.grade_swaps import TOPICS, SwapDifference
from formula_vcs.workspace.snapshot import Snapshot

MakeWorkspace = Callable[..., Snapshot]
TERMS = Terms(datetime.date(2026, 6, 1))
STEP = '\n[[step]]\nid = "mix"\ninto = "main"\nadd = ["A"]\nshear = "low"\n'
PASTE = f'title = "Paste"\nproduct = "toothpaste"\n[phase.A.charge]\nwater = "to 100"\nfine = 14.00\n{STEP}'
FINE = (
    'title = "Fine"\nsupplier = "Tern Rock"\nfunctions = ["abrasive"]\ndensity = "2.10 g/mL"\n'
    '[substances]\n"Hydrated Silica" = 100\n'
    '[handling]\nshear_at_most = "medium"\nbecause = "a rotor breaks the grains"\nhazards = ["H319"]\n'
    "[origin]\nnatural = 0\nnatural_origin = 1\n"
    '[spec]\npH = "6 to 7"\n[[certificate]]\nscheme = "cosmos-natural-4"\n[[price]]\ncost = "2.75 EUR/kg"\n'
)
CHEAP = (
    'title = "Cheap"\nsupplier = "Other Hill"\nfunctions = ["abrasive"]\n'
    '[substances]\n"Hydrated Silica" = 97\n"Aqua" = 3\n'
    '[origin]\nnatural = 0\nnatural_origin = 0.98\n[spec]\nRDA = "140 to 180"\n[[price]]\ncost = "1.10 EUR/kg"\n'
)
FILES = {"paste.toml": PASTE, "ingredients/fine.toml": FINE, "ingredients/cheap.toml": CHEAP}


def reviewed(workspace: MakeWorkspace, changed: dict[str, str], files: dict[str, str] = FILES) -> Review:
    found = compare(workspace(files), workspace({**files, **changed}), TERMS)
    return next(review for review in found.reviews if review.recipe == "paste")


SWAP = {"paste.toml": PASTE.replace("fine = 14.00", "cheap = 14.00")}


def test_what_two_files_state_differently_most_important_first(workspace: MakeWorkspace) -> None:
    (swap,) = reviewed(workspace, SWAP).swaps

    assert ("grade-swap:phase/A/charge/fine", "fine", "cheap") == (swap.change, swap.old, swap.new)
    assert (
        SwapDifference("handling", "shear at most", "medium", "not stated", lost=True),
        SwapDifference("composition", "Hydrated Silica", "100 %", "97 %"),
        SwapDifference("composition", "Aqua", "not stated", "3 %"),
        SwapDifference("spec", "pH", "6 to 7", "not stated"),
        SwapDifference("spec", "RDA", "not stated", "140 to 180"),
        SwapDifference("origin", "natural origin", "1", "0.98"),
        SwapDifference("certificates", "", "cosmos-natural-4", "not stated"),
        SwapDifference("hazards", "", "H319", "not stated"),
        SwapDifference("density", "", "2.10 g/mL", "not stated"),
        SwapDifference("price", "", "2.75 EUR/kg", "1.10 EUR/kg"),
        SwapDifference("supplier", "", "Tern Rock", "Other Hill"),
    ) == swap.differences
    ranks = [TOPICS.index(one.topic) for one in swap.differences]
    assert sorted(ranks) == ranks


def test_another_source_is_said(workspace: MakeWorkspace) -> None:
    files = {**FILES, "ingredients/cheap.toml": FINE.replace("supplier", 'source = "animal"\nsupplier')}
    files["ingredients/fine.toml"] = FINE.replace("supplier", 'source = "plant"\nsupplier')
    (swap,) = reviewed(workspace, SWAP, files).swaps

    assert swap.differences == (SwapDifference("source", "", "plant", "animal"),)


def test_a_demand_that_the_new_file_leaves_open_is_a_warning(workspace: MakeWorkspace) -> None:
    (item,) = reviewed(workspace, SWAP).new

    assert ("demand-lost", "warn") == (item.finding.rule, item.finding.severity)
    assert (
        "'fine' asks for medium shear at most (a rotor breaks the grains); 'cheap' states nothing"
        == item.finding.message
    )
    assert ("grade-swap:phase/A/charge/fine",) == item.causes
    assert item.finding.line > 0


@pytest.mark.parametrize(
    ("handling", "words"),
    [
        ('[handling]\nshear_at_most = "high"\n', None),
        ('[handling]\nadd_below = "40 degC"\n', "does not state it"),
        ('[handling]\nnote = "any shear"\n', "states nothing"),
    ],
)
def test_what_the_new_file_states_of_it(handling: str, words: str | None, workspace: MakeWorkspace) -> None:
    """A looser demand is stated, and stands among the differences; an open one is warned of."""
    text = CHEAP.replace("[origin]", f"{handling}[origin]")
    review = reviewed(workspace, SWAP, {**FILES, "ingredients/cheap.toml": text})
    lost = [item.finding.message for item in review.new if item.finding.rule == "demand-lost"]

    assert ([] if words is None else [True]) == [words is not None and line.endswith(words) for line in lost]
    assert any(one.topic == "handling" for one in review.swaps[0].differences)


@pytest.mark.parametrize(
    ("allowed", "words"),
    [
        (
            "",
            (
                "'fine' asks for medium shear at most and at most 15.00 % for toothpaste (a rotor breaks the grains); "
                "'cheap' states nothing"
            ),
        ),
        (
            '[max_use]\n"any product" = 20\n',
            "'fine' asks for medium shear at most (a rotor breaks the grains); 'cheap' does not state it",
        ),
    ],
)
def test_a_maximum_use_that_the_new_file_leaves_open(allowed: str, words: str, workspace: MakeWorkspace) -> None:
    limited = FINE.replace("[handling]", "[max_use]\ntoothpaste = 15.00\n[handling]")
    files = {**FILES, "ingredients/fine.toml": limited, "ingredients/cheap.toml": CHEAP + allowed}

    review = reviewed(workspace, SWAP, files)

    assert SwapDifference("max use", "toothpaste", "15.00 %", "not stated") in review.swaps[0].differences
    assert [words] == [one.finding.message for one in review.new if one.finding.rule == "demand-lost"]


def test_a_swap_inside_a_premix_shows_in_the_products(workspace: MakeWorkspace) -> None:
    premix = 'title = "Slurry"\nproduct = "premix"\n[phase.A.charge]\nwater = "to 100"\nfine = 50\n'
    files = {
        **FILES, "slurry.toml": premix, "ingredients/slurry.toml": 'title = "Slurry"\nrecipe = "slurry"\n',
        "paste.toml": PASTE.replace("fine = 14.00", "slurry = 28"),
    }  # fmt: skip
    review = reviewed(workspace, {"slurry.toml": premix.replace("fine", "cheap")}, files)

    assert [("fine", "cheap")] == [(swap.old, swap.new) for swap in review.swaps]
    (item,) = [item for item in review.new if item.finding.rule == "demand-lost"]
    assert ("phase", "A", "charge", "slurry") == item.finding.at


def test_two_files_that_state_the_same(workspace: MakeWorkspace) -> None:
    review = reviewed(workspace, SWAP, {**FILES, "ingredients/cheap.toml": FINE})

    assert () == review.swaps[0].differences
    assert () == review.new


def test_a_material_that_comes_with_no_handling_asks_by_its_inci_name(workspace: MakeWorkspace) -> None:
    """Added, and no swap: another file of the workspace has demands for the name."""
    plain = CHEAP.replace('97\n"Aqua" = 3', "100")
    oil = f'title = "P"\nproduct = "toothpaste"\n[phase.A.charge]\nwater = "to 100"\nglycerin = 5\n{STEP}'
    files = {**FILES, "paste.toml": oil, "ingredients/cheap.toml": plain}
    review = reviewed(workspace, {"paste.toml": oil.replace("glycerin = 5", "glycerin = 5\ncheap = 9")}, files)

    (item,) = [item for item in review.new if item.finding.rule == "handling-unstated"]
    assert ("note", "ingredients/cheap.toml") == (item.finding.severity, item.finding.file)
    assert ("added:phase/A/charge/cheap",) == item.causes


@pytest.mark.parametrize(
    "plain",
    [
        CHEAP.replace('97\n"Aqua" = 3', "100") + '[handling]\nnote = "stands any shear"\n',
        CHEAP.replace('"Aqua" = 3', '"Mica" = 3'),
    ],
)
def test_one_that_states_something_or_is_another_blend_does_not_ask(plain: str, workspace: MakeWorkspace) -> None:
    oil = f'title = "P"\nproduct = "toothpaste"\n[phase.A.charge]\nwater = "to 100"\nglycerin = 5\n{STEP}'
    files = {**FILES, "paste.toml": oil, "ingredients/cheap.toml": plain}
    review = reviewed(workspace, {"paste.toml": oil.replace("glycerin = 5", "glycerin = 5\ncheap = 9")}, files)

    assert [] == [item for item in review.new if item.finding.rule == "handling-unstated"]


def test_another_supplier_in_the_same_file_is_another_material(workspace: MakeWorkspace) -> None:
    """The file keeps its name, and what the old supplier's grade asked for is no longer stated."""
    files = {**FILES, "ingredients/fine.toml": FINE}
    review = reviewed(workspace, {"ingredients/fine.toml": CHEAP}, files)

    (item,) = [item for item in review.new if item.finding.rule == "demand-lost"]
    assert (
        "'fine' of Tern Rock asks for medium shear at most (a rotor breaks the grains); 'fine' of Other Hill states "
        "nothing"
    ) == item.finding.message
    assert ("ingredient:ingredient/fine/supplier",) == item.causes
    (swap,) = review.swaps
    assert ("handling", "composition") == tuple(dict.fromkeys(one.topic for one in swap.differences))[:2]

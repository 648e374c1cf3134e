"""``git formula explain``: what the tables know of one substance."""

from __future__ import annotations

import pytest

from tests.commands.bench_repo import run

Capsys = pytest.CaptureFixture[str]


def test_a_substance_by_a_name_in_another_language(capsys: Capsys) -> None:
    said = run(capsys, "explain", "Natriumfluorid")

    assert "Sodium Fluoride" == said.lines[0]
    assert "CAS: 7681-49-4" in said.lines
    assert "as F: 1 % counts as 0.4525 %" in said.lines  # 18.998 / 41.988
    assert "Regulation (EC) No 1223/2009, Annex III/26 to 43, 47 and 56" in said.lines
    assert 80 >= max(map(len, said.out.splitlines()))


def test_limits_by_product_and_date(capsys: Capsys) -> None:
    """Annex III/24 as amended by (EU) 2026/909: 1 % Zn in toothpaste, 0.1 % in mouthwash, from 2027 on."""
    data = run(capsys, "explain", "zinc", "chloride", "--format", "json").json("explain")
    entries = {entry["citation"].rpartition(", Annex ")[2]: entry for entry in data["entries"]}

    assert ("EU", "1", "Zn") == tuple(entries["III/24(a)"][key] for key in ("market", "at_most", "basis"))
    assert {"from": "2027-01-01", "to": None} == entries["III/24(a)"]["placed"]
    assert {"from": "2028-07-01", "to": None} == entries["III/24(a)"]["sold"]
    assert ["toothpaste"] == entries["III/24(a)"]["where"]["type"]


def test_a_number_an_old_name_and_a_name_of_the_law_alone(capsys: Capsys) -> None:
    assert "Potassium Sorbate" == run(capsys, "explain", "24634-61-5").lines[0]
    assert "Hydroxyisohexyl 3-Cyclohexene Carboxaldehyde" == run(capsys, "explain", "Lyral").lines[0]

    data = run(capsys, "explain", "Mercury", "--format", "json").json("explain")

    assert ("Mercury", "") == (data["name"], data["inci"])
    assert {"EU", "US"} == {entry["market"] for entry in data["entries"]}


def test_the_lists_of_claims_are_there(capsys: Capsys) -> None:
    page = run(capsys, "explain", "Sodium Benzoate", "--format", "markdown").out

    assert "COSMOS" in page
    assert "Annex V/1" in page


def test_an_entry_that_goes_by_a_number_of_the_inventory_says_so(capsys: Capsys) -> None:
    """III/321 names titanium dioxide; the colorant shares its number, and the inventory ties it to no entry."""
    data = run(capsys, "explain", "CI 77891", "--format", "json").json("explain")
    by_name = {entry["id"]: entry["by_name"] for entry in data["entries"]}

    assert by_name["eu-iv-143"]
    assert not by_name["eu-iii-321-powder"]


def test_what_nobody_knows_is_wrong_use(capsys: Capsys) -> None:
    said = run(capsys, "explain", "Sodium Benzoat")

    assert (2, "git formula: no table here knows 'Sodium Benzoat'; did you mean 'Sodium Benzoate'?\n") == (
        said.status,
        said.err,
    )
    assert (2, "git formula: no table here knows 'Unobtainium'\n") == tuple(
        getattr(run(capsys, "explain", "Unobtainium"), name) for name in ("status", "err")
    )

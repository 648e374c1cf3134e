"""``git formula log``: versions, figures over time, and when a figure crossed a line."""

from __future__ import annotations

import csv
import io
from pathlib import Path
from typing import Any

import pytest

from formula_vcs import __version__
from formula_vcs.cli import main
from formula_vcs.setup.demo_story import commits
from formula_vcs.setup.history_writer import create
from formula_vcs.setup.shipped import texts
from tests.commands.bench_repo import HOSTILE, HOSTILE_TOML, golden, run
from tests.git.helpers_git import settle
from tests.history.helpers_history import CREAM, Shed, material

Capsys = pytest.CaptureFixture[str]
SUNFLOWER = "Helianthus Annuus Seed Oil"


@pytest.fixture
def shed(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Shed:
    """Give a shed with five versions, and stand in it."""
    settle(monkeypatch, tmp_path)
    shed = Shed(tmp_path / "shed")
    organic = ("oil      = 6.00", "oil-organic = 6.00"), ('"B/oil"', '"B/oil-organic"')
    shed.edit("Organic oil\n\nReason: the shop asks for it", *organic)
    shed.edit("Less glycerin", ("glycerin = 5.00", "glycerin = 4.00"))
    text = material("Oil, organic", SUNFLOWER, organic="1", price="5.00")
    shed.commit("Price\n\nReason: a dry summer", {"ingredients/oil-organic.toml": text})
    shed.edit("Cheaper oil", *((new, old) for old, new in organic))
    shed.edit("Layout", ("glycerin = 4.00", "glycerin   = 4.0"))
    monkeypatch.chdir(shed.path)
    return shed


def subjects(data: Any) -> list[str]:
    return [version["commit"]["subject"] for version in data["versions"]]


def test_the_text(shed: Shed, capsys: Capsys) -> None:
    said = run(capsys, "log", "cream")

    assert golden("log.txt", said.out) == said.out
    assert 80 >= max(map(len, said.out.splitlines()))


def test_the_text_of_figures_and_of_a_charge(shed: Shed, capsys: Capsys) -> None:
    many = run(capsys, "log", "cream", "--figure", "organic", "--figure", "cost_per_kg", "--figure", "density").out
    charge = run(capsys, "log", "cream", "--charge", "oil").out

    assert golden("log-figures.txt", many + charge) == many + charge
    assert 80 >= max(map(len, many.splitlines()))


def test_the_markdown(shed: Shed, capsys: Capsys) -> None:
    said = run(capsys, "log", "cream", "--format", "markdown")

    out = said.out.replace(f"git-formula {__version__}", "it")
    assert golden("log.md", out) == out


def test_json_is_exact_and_oldest_first(shed: Shed, capsys: Capsys) -> None:
    """Cost by hand: 0.89 x 0.01 + 0.05 x 2 + 0.06 x 2 = 0.2289; with 4 % glycerin 0.2090; at 5.00 EUR/kg 0.3890."""
    data = run(capsys, "log", "cream", "--format", "json").json("log")

    assert ["Begin", "Organic oil", "Less glycerin", "Price", "Cheaper oil"] == subjects(data)
    assert ["0.2289", "0.2289", "0.209", "0.389", "0.209"] == [
        version["figures"]["cost_per_kg"]["value"] for version in data["versions"]
    ]
    assert [False, False, False, True, False] == [version["only_under"] for version in data["versions"]]
    assert [None, "the shop asks for it", None, "a dry summer", None] == [
        version["commit"]["reason"] for version in data["versions"]
    ]
    assert data["when"] is None


def test_the_commit_that_took_the_organic_share_under_its_limit(shed: Shed, capsys: Capsys) -> None:
    said = run(capsys, "log", "cream", "--figure", "organic", "--below", "5")
    data = run(capsys, "log", "cream", "--figure", "organic", "--below", "5", "--format", "json").json("log")

    assert 0 == said.status
    assert golden("log-when.txt", said.out) == said.out
    assert "Began below 5 %, and crossed to it again on 2026-01-06." in said.lines
    crossings = data["when"]["crossings"]
    assert [("Begin", False), ("Organic oil", True), ("Cheaper oil", False)] == [
        (crossing["commit"]["subject"], crossing["back"]) for crossing in crossings
    ]
    assert ["grade-swap:phase/B/charge/oil-organic"] == [item["change"]["id"] for item in crossings[-1]["by"]]
    assert ["-6"] == [item["share"] for item in crossings[-1]["by"]]
    assert "0" == data["when"]["now"]["value"]


def test_what_was_past_the_line_before_the_versions_asked_for_is_not_never(shed: Shed, capsys: Capsys) -> None:
    """Organic: 0 %, then 6 % on 3 January, back to 0 % on the 6th."""
    asked = ("log", "cream", "--figure", "organic")

    above = run(capsys, *asked, "--above", "5", "--since", "2026-01-04")
    below = run(capsys, *asked, "--below", "5", "-n", "1")
    never = run(capsys, *asked, "--above", "7", "-n", "2")

    assert "Already above 5 % when the versions asked for begin, on 2026-01-04." in above.lines
    assert "First below 5 % in the versions asked for on 2026-01-06." in below.lines
    assert "Never above 7 % in the versions asked for." in never.lines


def test_never_is_an_answer(shed: Shed, capsys: Capsys) -> None:
    said = run(capsys, "log", "cream", "--figure", "natural-origin", "--below", "95")

    assert 0 == said.status
    assert "Never below 95 %." in said.lines


@pytest.mark.parametrize("form", ["text", "markdown", "html"])
def test_every_format_for_people_answers_when(shed: Shed, capsys: Capsys, form: str) -> None:
    out = run(capsys, "log", "cream", "--figure", "organic", "--above", "5.5", "--format", form).out

    assert "First above 5.5 %" in out
    assert "the shop asks for it" in out


def test_the_table_for_a_spreadsheet(shed: Shed, capsys: Capsys) -> None:
    said = run(capsys, "log", "cream", "--format", "csv", "--figure", "cost_per_kg")

    rows = list(csv.DictReader(io.StringIO(said.out, newline="")))
    assert ["Begin", "Organic oil", "Less glycerin", "Price", "Cheaper oil"] == [row["subject"] for row in rows]
    assert ["0.2289", "0.2289", "0.209", "0.389", "0.209"] == [row["cost_per_kg"] for row in rows]
    assert {"EUR/kg"} == {row["cost_per_kg_unit"] for row in rows}
    assert ["no", "no", "no", "yes", "no"] == [row["only_under"] for row in rows]
    assert "2026-01-02" == rows[0]["date"]


def test_words_that_a_spreadsheet_would_run_are_made_harmless(shed: Shed, capsys: Capsys) -> None:
    for lead in ("=cmd|' /C calc'!A0", "+1+1", "-2+3", "@SUM(A1)", '=HYPERLINK("http://x", "y"), quoted'):
        shed.edit(f"{lead}\n\nReason: {lead}", ("glycerin   = 4.0", f"glycerin   = 4.0{len(lead)}"))
        shed.edit("back", (f"glycerin   = 4.0{len(lead)}", "glycerin   = 4.0"))

    said = run(capsys, "log", "cream", "--format", "csv")

    cells = [cell for row in csv.reader(io.StringIO(said.out, newline="")) for cell in row]
    assert 10 == sum(cell[:2] in ("'=", "'+", "'-", "'@") for cell in cells)
    assert [] == [cell for cell in cells if cell.startswith(("=", "+", "-", "@"))]


def test_a_number_without_an_end_is_a_decimal_in_a_spreadsheet(shed: Shed, capsys: Capsys) -> None:
    """An index of 1/3 on 6 %: 89 + 5 + 2 = 96 % of 100, and 1/7 gives no finite decimal."""
    shed.commit(
        "Index",
        {"ingredients/oil.toml": material("Oil", SUNFLOWER).replace("natural_origin = 1", 'natural_origin = "1/7"')},
    )

    said = run(capsys, "log", "cream", "--format", "csv", "--figure", "natural_origin")

    last = list(csv.DictReader(io.StringIO(said.out, newline="")))[-1]["natural_origin"]
    assert "94.857142857142857143" == last


def test_only_some_versions(shed: Shed, capsys: Capsys) -> None:
    def told(*words: str) -> list[str]:
        return subjects(run(capsys, "log", "cream", "--format", "json", *words).json("log"))

    assert ["Price", "Cheaper oil"] == told("-n", "2")
    assert [] == told("-n", "0")
    assert ["Price", "Cheaper oil"] == told("--since", "2026-01-05")
    assert ["Price", "Cheaper oil"] == told("--since", "HEAD~3")
    assert ["Begin", "Organic oil"] == told("--rev", "HEAD~4")
    assert ["Begin", "Organic oil", "Price", "Cheaper oil"] == told("--charge", "oil") == told("--charge", "B/oil")


def test_one_day_for_all_prices(shed: Shed, capsys: Capsys) -> None:
    dear = material("Oil", SUNFLOWER) + '\n[[price]]\ncost = "3.00 EUR/kg"\nsince = 2026-06-01\n'
    shed.commit("Letter", {"ingredients/oil.toml": dear})

    def last(*words: str) -> str:
        data = run(capsys, "log", "cream", "--format", "json", *words).json("log")
        value: str = data["versions"][-1]["figures"]["cost_per_kg"]["value"]
        return value

    assert "0.209" == last()
    assert "0.269" == last("--as-of", "2026-06-01")


def test_the_spark_in_ascii(shed: Shed, capsys: Capsys, monkeypatch: pytest.MonkeyPatch) -> None:
    buffer = io.BytesIO()
    monkeypatch.setattr("sys.stdout", io.TextIOWrapper(buffer, encoding="ascii", errors="backslashreplace"))

    assert 0 == main(["log", "cream", "--figure", "organic"])

    text = buffer.getvalue().decode("ascii")
    assert "organic  _###_  0.00 to 0.00 %" in text


def test_a_recipe_that_is_gone(shed: Shed, capsys: Capsys) -> None:
    (shed.path / "cream.toml").unlink()
    shed.commit("Drop")

    said = run(capsys, "log", "cream", "--format", "json").json("log")

    assert ("removed", {}) == (said["versions"][-1]["status"], said["versions"][-1]["figures"])
    assert 0 == run(capsys, "log", "cream").status
    assert 0 == run(capsys, "log", "cream", "--format", "html").status


def test_what_is_asked_wrongly(shed: Shed, capsys: Capsys) -> None:
    for words, because in (
        (("log", "nothing"), "no recipe is called 'nothing'"),
        (("log", "cream", "--figure", "cost-per-kilo"), "did you mean 'cost_per_kg'?"),
        (("log", "cream", "--figure", "organic", "--below", "much"), "--below wants a number, like 95, not 'much'"),
        (("log", "cream", "--below", "5"), "--below wants exactly one --figure"),
        (("log", "cream", "--figure", "organic", "--below", "5", "--above", "6"), "one at a time"),
        (("log", "cream", "--figure", "organic", "--below", "5", "--charge", "oil"), "leave --charge out"),
        (("log", "cream", "--charge", "glycerol"), "did you mean 'glycerin'?"),
        (("log", "cream", "--since", "yesterday"), "--since wants a day, like 2026-01-31, or a revision"),
        (("log", "cream", "--since", "2026-13-01"), "is no date"),
        (("log", "cream", "-n", "few"), "-n wants a number of versions"),
        (("log", "cream@nowhere"), "unknown revision 'nowhere'"),
        (("log", "cream", "--as-of", "today"), "is no date"),
    ):
        said = run(capsys, *words)
        assert (2, "") == (said.status, said.out), words
        assert because in said.err
        assert 1 == len(said.err.splitlines())


def test_outside_git(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: Capsys) -> None:
    (tmp_path / "workspace.toml").write_text('title = "x"\n', "utf-8")
    (tmp_path / "cream.toml").write_text(CREAM, "utf-8")
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("GIT_CEILING_DIRECTORIES", str(tmp_path.parent))

    said = run(capsys, "log", "cream")

    assert 2 == said.status
    assert "in no git repository" in said.err


def test_before_the_first_commit(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: Capsys) -> None:
    settle(monkeypatch, tmp_path)
    shed = Shed(tmp_path / "shed")
    shed.git("checkout", "--quiet", "--orphan", "new")
    monkeypatch.chdir(shed.path)

    said = run(capsys, "log", "cream")

    assert 2 == said.status
    assert "no commits yet" in said.err


def test_a_shallow_clone_says_so(shed: Shed, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: Capsys) -> None:
    shed.git("clone", "--quiet", "--depth=3", f"file://{shed.path}", str(tmp_path / "clone"))
    monkeypatch.chdir(tmp_path / "clone")

    text = run(capsys, "log", "cream").out
    data = run(capsys, "log", "cream", "--format", "json").json("log")
    when = run(capsys, "log", "cream", "--figure", "organic", "--above", "5").out

    assert "older versions are not in this…" in text or "older versions" in text
    assert "this clone is shallow" in " ".join(text.split())
    assert (True, "cut") == (data["shallow"], data["versions"][0]["status"])
    assert "Already above 5 % in the oldest version of this clone" in " ".join(when.split())


@pytest.mark.parametrize("form", ["text", "json", "csv", "markdown", "html"])
def test_hostile_words_do_nothing(shed: Shed, capsys: Capsys, form: str) -> None:
    """Names, subjects and reasons that terminals, pages, markdown or a CI runner would take for their own."""
    subject = HOSTILE.replace("\n", " ")
    shed.edit(f"{subject}\n\nReason: {subject}", ('title = "Cream"', f'title = "{HOSTILE_TOML}"'))
    shed.edit(
        f"{subject} 2\n\nReason: {subject}",
        ("glycerin   = 4.0", f'glycerin   = {{ pct = 4, note = "{HOSTILE_TOML}" }}'),
    )

    out = run(capsys, "log", "cream", "--format", form).out

    assert "\x1b" not in out
    assert "\u202e" not in out
    assert "<b>" not in out or form in ("text", "json", "csv")
    assert not any(line.lstrip().startswith(("::error", "::warning", "##[")) for line in out.splitlines())


def test_in_the_demo_a_statement_of_a_supplier_takes_a_share_down(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: Capsys
) -> None:
    """The proposal's new index of the emulsifier, 5 % of it at 0.97: 0.15 points of natural origin."""
    create(tmp_path / "island", commits(texts("recipes")), branch="main")
    monkeypatch.chdir(tmp_path / "island")

    words = ("log", "hand-cream@proposal", "--figure", "natural_origin", "--below", "99.2", "--format", "json")
    data = run(capsys, *words).json("log")

    (crossing,) = data["when"]["crossings"]
    assert "Glucoside emulsifier: natural origin index 0.97" == crossing["commit"]["subject"]
    assert [("ingredient:ingredient/glucoside-emulsifier/origin/natural_origin", "-0.15")] == [
        (item["change"]["id"], item["share"]) for item in crossing["by"]
    ]


def test_in_the_demo_the_organic_share_of_the_balm_falls_under_what_it_claimed(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: Capsys
) -> None:
    """12 % of refined shea butter in place of the organic one: 64.16 - 12 = 52.16 %, and the claim was 60 %."""
    create(tmp_path / "island", commits(texts("recipes")), branch="main")
    monkeypatch.chdir(tmp_path / "island")

    words = ("log", "lip-balm", "--figure", "organic", "--below", "60", "--format", "json")
    when = run(capsys, *words).json("log")["when"]

    down, up = when["crossings"]
    assert ("Lip balm: refined shea butter for now", False) == (down["commit"]["subject"], down["back"])
    assert ("Lip balm: organic shea butter again", True) == (up["commit"]["subject"], up["back"])
    assert [("grade-swap:phase/A/charge/shea-butter-organic", "-12")] == [
        (item["change"]["id"], item["share"]) for item in down["by"]
    ]
    assert [64.16, 52.16] == [round(float(down[side]["value"]), 2) for side in ("before", "after")]


def test_what_changed_is_folded_and_not_cut(shed: Shed, capsys: Capsys) -> None:
    shed.edit("Slower", ('time  = "5 min"', 'time  = "7.5 min"'), ('pH = "5 to 6"', 'pH = "5.2 to 5.8"'))

    lines = run(capsys, "log", "cream").lines

    at = next(number for number, line in enumerate(lines) if line.startswith("2026-01-08"))
    assert "spec pH 5 to 6 \u2192 5.2 to 5.8; step 'mix', time 5 min \u2192 7.5 min" == " ".join(
        f"{lines[at].partition('100.00')[2]} {lines[at + 1]}".split()
    )
    assert "AF Ada Formulator" in lines


def test_a_wide_terminal_has_room_for_names(shed: Shed, capsys: Capsys, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("COLUMNS", "130")
    monkeypatch.setattr("sys.stdout.isatty", lambda: True)
    monkeypatch.setenv("NO_COLOR", "1")

    lines = run(capsys, "log", "cream").lines

    assert any("  Ada Formulator  0.3890   100.00  ~ oil-organic price 5.00 EUR/kg" in line for line in lines)
    assert "AF Ada Formulator" not in lines


def test_a_recipe_that_came_back_says_so(shed: Shed, capsys: Capsys) -> None:
    text = (shed.path / "cream.toml").read_text("utf-8")
    (shed.path / "cream.toml").unlink()
    shed.commit("Drop")
    shed.commit("Back", {"cream.toml": text})

    out = run(capsys, "log", "cream", "-n", "2").out

    assert "the recipe is back" in out
    assert "the recipe is removed" in out


def test_a_book_of_a_reason_is_cut(shed: Shed, capsys: Capsys) -> None:
    shed.edit(f"More\n\nReason: {'because ' * 10_000}", ("glycerin   = 4.0", "glycerin   = 9.0"))

    assert 4000 > len(run(capsys, "blame", "cream").out)
    assert 4000 > len(run(capsys, "log", "cream", "--figure", "cost_per_kg", "--above", "0.3").out)

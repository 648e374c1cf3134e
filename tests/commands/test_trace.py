"""``git formula trace`` and ``uses --lot``: on the demo's year of batches, in every format, and used wrongly."""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from formula_vcs.setup.demo_story import MAIN, commits
from formula_vcs.setup.history_writer import create
from formula_vcs.setup.shipped import texts
from tests.commands.bench_repo import HOSTILE_TOML, run
from tests.trace.helpers_trace import SHOP, gel, lotion

Make = Callable[..., Any]
Capsys = pytest.CaptureFixture[str]
GOOD, BAD = "hc-040", "hc-041"


@pytest.fixture(scope="module")
def island(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Build the demo's repository once."""
    folder = tmp_path_factory.mktemp("island")
    create(folder, commits(texts("recipes")), branch=MAIN)
    return folder


@pytest.fixture
def here(island: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Stand in it."""
    monkeypatch.chdir(island)
    return island


# Done when


@pytest.mark.parametrize("good", ["hc-036", "hc-038", "hc-039", GOOD])
def test_both_real_causes_stand_first_and_the_third_thing_is_not_accused(here: Path, capsys: Capsys, good: str) -> None:
    """A gum lot near its lower limit, and a step shortened for another reason; more xanthan points the other way."""
    data = run(capsys, "trace", good, BAD, "--format", "json").json("trace")
    (viscosity,) = [one for one in data["explained"] if one["result"] == "viscosity"]
    by_id = {item["id"]: item for item in data["differences"]}
    first = [by_id[item["difference"]] for item in viscosity["fits"][:2]]

    assert {"recipe/time/hydrate-gum", "lots/kelp-gel-4/certificate/kelp-gum/viscosity"} == {
        item["id"] for item in first
    }
    assert {"large"} == {item["evidence"] for item in first}
    assert "recipe/amount/xanthan-gum (A)" in [item["difference"] for item in viscosity["other_way"]]
    assert "recipe/amount/xanthan-gum (A)" not in [item["difference"] for item in viscosity["fits"]]


def test_commit_and_lot_are_named(here: Path, capsys: Capsys) -> None:
    data = run(capsys, "trace", GOOD, BAD, "--format", "json").json("trace")
    by_id = {item["id"]: item for item in data["differences"]}
    (change,) = [item for item in data["recipe"]["changes"] if item["where"] == "step/hydrate-gum/time"]
    lot = by_id["lots/kelp-gel-4/certificate/kelp-gum/viscosity"]

    assert ["Hand cream: 4 minutes under the rotor for the gum, not 8"] == [one["subject"] for one in change["commits"]]
    assert ["Jonah Merrick"] == [one["author"] for one in change["commits"]]
    assert "face polish" in change["commits"][0]["reason"]
    assert by_id["recipe/time/hydrate-gum"]["commits"] == [change["commits"][0]["commit"]]
    assert "lot kelp-gum-2247 to kelp-gum-2291" in lot["notes"]
    assert any("near the lower limit" in note for note in lot["notes"])


def test_the_text_says_it_first_and_fits_a_terminal(here: Path, capsys: Capsys) -> None:
    said = run(capsys, "trace", GOOD, BAD).out
    short = said.partition("1. Results")[0]

    assert max(map(len, said.splitlines())) <= 80
    for words in ("below the spec", "hydrate-gum, time: 8 min", "kelp-gum-2291", "points the other way: xanthan-gum"):
        assert words in " ".join(short.split()), words
    assert ["1. Results", "2. The recipe between them", "3. The making", "4. The lots", "5. What could explain it"] == [
        line for line in said.splitlines() if re.match(r"\d\. [A-Z]", line)
    ]


def test_two_good_batches_differ_in_nothing(here: Path, capsys: Capsys) -> None:
    said = run(capsys, "trace", "hc-033", "hc-034")

    assert 0 == said.status
    assert "Nothing recorded differs." in said.out


def test_a_recall_lists_the_packs_through_premix_lots(here: Path, capsys: Capsys) -> None:
    data = run(capsys, "uses", "--lot", "kelp-gum-2291", "--format", "json").json("lot_uses")
    finished = [item for item in data["batches"] if not item["premix"]]

    assert ["hc-041", "hc-042"] == [item["batch"] for item in finished]
    assert ["kg-011", "kg-012"] == [item["batch"] for item in data["batches"] if item["premix"]]
    assert sum(item["packs"] for item in finished) == data["packs"] > 2000
    assert [[["kg-011"]], [["kg-012"]]] == [item["ways"] for item in finished]


def test_a_recall_by_the_suppliers_number_in_every_format(here: Path, capsys: Capsys) -> None:
    text, page, markdown, table = (
        run(capsys, "uses", "--lot", "2291", "--format", form).out for form in ("text", "html", "markdown", "csv")
    )
    rows = list(csv.DictReader(io.StringIO(table)))

    for said in (text, page, markdown):
        assert "hc-041" in said
        assert "kg-011" in said
    assert max(map(len, text.splitlines())) <= 80
    assert ["kg-011", "hc-041", "kg-012", "hc-042"] == [row["batch"] for row in rows]
    assert "0.24" == rows[1]["kg_of_the_lot"][:4]


def test_among_its_peers_the_thin_batch_stands_out(here: Path, capsys: Capsys) -> None:
    data = run(capsys, "trace", BAD, "--against", "hand-cream", "--last", "20", "--format", "json").json("peers")
    out = {(item["kind"], *item["name"]) for item in data["values"] if item["stands_out"]}

    assert {
        ("result", "viscosity"),
        ("step", "hydrate-gum", "time"),
        ("lot", "kelp-gel-4", "viscosity"),
    } == out
    assert 16 == len(data["peers"])


def test_a_good_batch_stands_out_in_nothing(here: Path, capsys: Capsys) -> None:
    data = run(capsys, "trace", "hc-038", "--against", "hand-cream", "--format", "json").json("peers")

    assert 0 == data["unusual"]


def test_numbers_of_peers_have_as_many_decimals_as_the_value(here: Path, capsys: Capsys) -> None:
    said = run(capsys, "trace", BAD, "--against", "hand-cream", "--format", "markdown").out.replace("\\", "")
    weighings = said.partition("Weighings")[2].partition("###")[0]
    rows = re.findall(r"\| ([\d.]+) % \| median ([\d.]+) of \d+, ([\d.]+) to ([\d.]+) ", weighings)

    assert 17 < len(rows)
    for numbers in rows:
        assert 1 == len({len(number.partition(".")[2]) for number in numbers}), numbers
        assert numbers[2] != numbers[3]
    assert ("15.8", "23.0", "21.7", "23.9") in re.findall(
        r"([\d.]+) Pa\*s\n  - median ([\d.]+) of \d+, ([\d.]+) to ([\d.]+);", said
    )


def test_with_few_peers_it_says_so(here: Path, capsys: Capsys) -> None:
    said = run(capsys, "trace", BAD, "--against", "hand-cream", "--last", "4").out

    assert "4 peers are too few to call anything unusual: 6 are wanted" in " ".join(said.split())


def test_against_its_own_recipe(here: Path, capsys: Capsys) -> None:
    data = run(capsys, "trace", BAD, "--against-recipe", "--format", "json").json("trace")

    assert ["viscosity"] == [one["result"] for one in data["explained"]]
    assert ["lots/kelp-gel-4/certificate/kelp-gum/viscosity"] == [
        item["difference"] for item in data["explained"][0]["fits"]
    ]
    assert "@" not in run(capsys, "trace", BAD, "--against-recipe").out


@pytest.mark.parametrize("words", [(GOOD, BAD), (BAD, "--against-recipe"), (BAD, "--against", "hand-cream")])
@pytest.mark.parametrize("form", ["text", "markdown", "html"])
def test_every_question_has_every_format(
    here: Path, capsys: Capsys, tmp_path: Path, words: tuple[str, ...], form: str
) -> None:
    said = run(capsys, "trace", *words, "--format", form)
    file = tmp_path / "out"
    run(capsys, "trace", *words, "--format", form, "-o", str(file))

    assert 0 == said.status
    assert "viscosity" in said.out
    assert said.out == file.read_text("utf-8")


def test_a_batch_by_its_file_and_at_a_revision(here: Path, capsys: Capsys) -> None:
    plain = run(capsys, "trace", GOOD, BAD).out

    assert plain == run(capsys, "trace", f"batches/{GOOD}.toml", f"batches/{BAD}.toml").out
    assert plain == run(capsys, "trace", GOOD, BAD, "--rev", "main").out
    assert 2 == run(capsys, "trace", GOOD, BAD, "--rev", "main~20").status


@pytest.mark.parametrize(
    ("words", "message"),
    [
        ((GOOD,), "name two batches to compare; one alone goes with"),
        ((GOOD, BAD, "hc-030"), "name two batches"),
        ((GOOD, BAD, "--against-recipe"), "name one batch"),
        ((GOOD, "--against-recipe", "--against", "hand-cream"), "ask two things"),
        ((GOOD, BAD, "--last", "3"), "--last says how many"),
        ((GOOD, "--against", "hand-cream", "--last", "0"), "--last 0"),
        ((GOOD, "--against", "hand-creme"), "no recipe is called 'hand-creme'; did you mean 'hand-cream'"),
        ((GOOD, "hc-04"), "no batch is called 'hc-04'"),
        ((GOOD, "hand-cream.toml"), "no batch is called 'hand-cream.toml'"),
        ((GOOD, BAD, "-o", "no/such/folder/x"), "cannot be written"),
    ],
)
def test_wrong_use_ends_with_2(here: Path, capsys: Capsys, words: tuple[str, ...], message: str) -> None:
    said = run(capsys, "trace", *words)

    assert (2, "") == (said.status, said.out)
    assert message in said.err


@pytest.mark.parametrize(
    ("words", "message"),
    [
        (("--lot", "2291", "--batch", "1 kg"), "--batch is for ingredients"),
        (("glycerin", "--lot", "2291"), "name one ingredient"),
        (("glycerin", "--format", "csv"), "--format csv is for lots"),
        (("--lot", "kelp-gum-2292"), "did you mean 'kelp-gum-2291'"),
    ],
)
def test_a_lot_asked_for_wrongly(here: Path, capsys: Capsys, words: tuple[str, ...], message: str) -> None:
    said = run(capsys, "uses", *words)

    assert 2 == said.status
    assert message in said.err


def test_a_batch_that_does_not_parse_is_named_with_its_line(
    git_repo: Make, monkeypatch: pytest.MonkeyPatch, capsys: Capsys
) -> None:
    repo = git_repo(SHOP)
    repo.write({**lotion("a", "a" * 40), "batches/b.toml": 'recipe = "lotion"\nsize = \n'})
    monkeypatch.chdir(repo.path)
    said = run(capsys, "trace", "a", "b")

    assert 2 == said.status
    assert "batches/b.toml:2:" in said.err


def test_outside_git_the_records_are_still_traced(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: Capsys
) -> None:
    for name, text in {**SHOP, **gel("g-1", "a" * 40, "k-1", "18 Pa*s"), **lotion("a", "a" * 40)}.items():
        (tmp_path / name).parent.mkdir(parents=True, exist_ok=True)
        (tmp_path / name).write_text(text, encoding="utf-8")
    monkeypatch.chdir(tmp_path)
    said = run(capsys, "trace", "a", "a")

    assert 0 == said.status
    assert "this workspace is in no git repository" in " ".join(said.out.split())


# Not to be trusted


@pytest.mark.parametrize("form", ["text", "markdown", "html", "json"])
def test_nothing_of_a_hostile_batch_takes_effect(
    git_repo: Make, monkeypatch: pytest.MonkeyPatch, capsys: Capsys, form: str
) -> None:
    repo = git_repo(SHOP)
    head = repo.git("rev-parse", "HEAD")
    quoted = f'"{HOSTILE_TOML}"'
    thin = lotion("b", head, results=f'viscosity = "15 Pa*s"\n{quoted} = "3 g"\n', more=f"made_by = {quoted}\n")
    text = thin["batches/b.toml"].replace('lot = "x"', f"lot = {quoted}").replace("gum = {", f"{quoted} = {{")
    repo.write({**gel("g-1", head, "k-1", "18 Pa*s"), **lotion("a", head), "batches/b.toml": text})
    monkeypatch.chdir(repo.path)
    said = run(capsys, "trace", "a", "b", "--format", form)
    lots = run(capsys, "uses", "--lot", "g-1", "--format", form)

    for out in (said.out, lots.out):
        assert not re.search(
            "[\x00-\x09\x0b-\x1f\x7f-\x9f\u200b-\u200f\u2028-\u202e\u2066-\u2069]", out.replace("&#8203;", "")
        )
    if form == "html":
        assert "<script" not in said.out
        assert "<img" not in said.out
        assert "onerror=" not in re.sub(r"&[a-z#0-9]+;", "", said.out) or "<b" not in said.out

"""``git formula blame``: each line of a recipe with the commit that last changed its meaning."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from tests.commands.bench_repo import HOSTILE, HOSTILE_TOML, golden, run
from tests.git.helpers_git import settle
from tests.history.helpers_history import CREAM, REINDENTED, Shed

Capsys = pytest.CaptureFixture[str]


@pytest.fixture
def shed(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Shed:
    """Give a shed with a few changes, and stand in it."""
    settle(monkeypatch, tmp_path)
    shed = Shed(tmp_path / "shed")
    shed.edit("More oil\n\nReason: too dry", ("oil      = 6.00", "oil      = 7.00"))
    shed.edit("Oil later", ("[phase.B.charge]", "[phase.C.charge]"), ('"B/oil"', '"C/oil"'))
    shed.edit(
        "Longer, and wider\n\nReason: lumps\nCo-authored-by: Bo Ek <bo@x>", ("5 min", "9 min"), ("5 to 6", "5 to 7")
    )
    monkeypatch.chdir(shed.path)
    return shed


def lines(data: Any) -> dict[str, tuple[str | None, str | None]]:
    """Give where -> (value, subject of the commit that it is owed to)."""
    subjects = {commit["id"]: commit["subject"] for commit in data["commits"]}
    return {line["where"]: (line["value"], subjects.get(line["commit"])) for line in data["lines"]}


def test_the_text(shed: Shed, capsys: Capsys) -> None:
    said = run(capsys, "blame", "cream@HEAD")

    assert golden("blame.txt", said.out) == said.out
    assert 80 >= max(map(len, said.out.splitlines()))


def test_the_markdown(shed: Shed, capsys: Capsys) -> None:
    said = run(capsys, "blame", "cream@HEAD", "--format", "markdown")

    assert golden("blame.md", said.out) == said.out


def test_json(shed: Shed, capsys: Capsys) -> None:
    data = run(capsys, "blame", "cream@HEAD", "--format", "json").json("blame")

    found = lines(data)
    assert ("7.00 %", "Oil later") == found["phase/C/charge/oil"]
    assert ("5.00 %", "Begin") == found["phase/A/charge/glycerin"]
    assert ("5 to 7", "Longer, and wider") == found["spec/pH"]
    oil = next(line for line in data["lines"] if line["where"] == "phase/C/charge/oil")
    assert [("amount", "7.00 %", "6.00 %"), ("phase", "C", "B"), ("grade", "oil", None)] == [
        (part["what"], part["value"], part["old"]) for part in oil["parts"]
    ]
    water = next(line for line in data["lines"] if line["balance"])
    assert ("88", "89") == (water["balance"]["pct"], water["balance"]["old"])
    assert [("amount:phase/B/charge/oil", "-1")] == [
        (mover["change"], mover["points"]) for mover in water["balance"]["moved_by"]
    ]
    assert {"lumps", "too dry", None} == {commit["reason"] for commit in data["commits"]}
    assert ["Bo Ek"] == next(c for c in data["commits"] if c["reason"] == "lumps")["co_authors"]


def test_a_re_indented_file_blames_as_before(shed: Shed, capsys: Capsys) -> None:
    """The issue's: layout, comments, order of keys and of tables, 7.00 as 7.0."""
    before = lines(run(capsys, "blame", "cream@HEAD", "--format", "json").json("blame"))
    text = REINDENTED.replace("oil = 6", "oil = 7.0").replace("phase.B", "phase.C").replace("B/oil", "C/oil")
    shed.commit("Layout", {"cream.toml": text.replace("5 min", "9 min").replace("5 to 6", "5 to 7")})

    after = lines(run(capsys, "blame", "cream@HEAD", "--format", "json").json("blame"))

    assert "Layout" not in {subject for _, subject in after.values()}
    assert {where: subject for where, (_, subject) in before.items()} == {
        where: subject for where, (_, subject) in after.items()
    }


def test_what_is_not_committed_yet(shed: Shed, capsys: Capsys) -> None:
    text = (shed.path / "cream.toml").read_text("utf-8")
    shed.write({"cream.toml": text.replace("glycerin = 5.00", "glycerin = 4.00")})

    said = run(capsys, "blame", "cream")
    data = run(capsys, "blame", "cream", "--format", "json").json("blame")

    assert "not yet                 glycerin 4.00 % (was 5.00 %)" in said.lines
    assert ("4.00 %", None) == lines(data)["phase/A/charge/glycerin"]
    assert ("7.00 %", "Oil later") == lines(data)["phase/C/charge/oil"]
    assert (None, "work tree") == (data["commit"], data["revision"])


def test_mended_and_not_committed(shed: Shed, capsys: Capsys) -> None:
    """The commit before holds what does not parse: what it left alone is not owed to the work tree."""
    text = (shed.path / "cream.toml").read_text("utf-8")
    shed.commit("Broken", {"cream.toml": text + "[[["})
    shed.write({"cream.toml": text.replace("glycerin = 5.00", "glycerin = 4.00")})

    found = lines(run(capsys, "blame", "cream", "--format", "json").json("blame"))

    assert ("4.00 %", None) == found["phase/A/charge/glycerin"]
    assert ("7.00 %", "Oil later") == found["phase/C/charge/oil"]


def test_a_recipe_that_is_not_committed_at_all(shed: Shed, capsys: Capsys) -> None:
    shed.write({"gel.toml": CREAM})

    data = run(capsys, "blame", "gel", "--format", "json").json("blame")

    assert {None} == {line["commit"] for line in data["lines"]}
    assert [] == data["commits"]


def test_a_file_renamed_and_not_committed(shed: Shed, capsys: Capsys) -> None:
    shed.git("mv", "cream.toml", "balm.toml")

    data = run(capsys, "blame", "balm", "--format", "json").json("blame")

    assert ("7.00 %", "Oil later") == lines(data)["phase/C/charge/oil"]


def test_before_the_first_commit(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: Capsys) -> None:
    settle(monkeypatch, tmp_path)
    shed = Shed(tmp_path / "shed")
    shed.git("checkout", "--quiet", "--orphan", "new")
    monkeypatch.chdir(shed.path)

    data = run(capsys, "blame", "cream", "--format", "json").json("blame")

    assert {None} == {line["commit"] for line in data["lines"]}


def test_what_came_by_a_merge(shed: Shed, capsys: Capsys) -> None:
    shed.branch("side")
    shed.edit("Side", ("glycerin = 5.00", "glycerin = 4.00"))
    shed.switch("main")
    shed.edit("Main", ("5 to 7", "5 to 8"))
    shed.merge("side")

    found = lines(run(capsys, "blame", "cream@HEAD", "--format", "json").json("blame"))
    first = lines(run(capsys, "blame", "cream@HEAD", "--first-parent", "--format", "json").json("blame"))

    assert ("Side", "Main") == (found["phase/A/charge/glycerin"][1], found["spec/pH"][1])
    assert "Merge branch 'side'" == first["phase/A/charge/glycerin"][1]


def test_a_shallow_clone_says_so(shed: Shed, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: Capsys) -> None:
    shed.git("clone", "--quiet", "--depth=1", f"file://{shed.path}", str(tmp_path / "clone"))
    monkeypatch.chdir(tmp_path / "clone")

    said = run(capsys, "blame", "cream@HEAD")
    data = run(capsys, "blame", "cream@HEAD", "--format", "json").json("blame")

    assert "or earlier: this clone is shallow" in " ".join(said.out.split())
    assert data["shallow"]
    assert {True} == {part["or_earlier"] for line in data["lines"] for part in line["parts"]}


def test_what_is_asked_wrongly(shed: Shed, capsys: Capsys) -> None:
    for words, because in (
        (("blame", "nothing"), "no recipe is called 'nothing'"),
        (("blame", "glycerin"), "'glycerin' is an ingredient, and a recipe is wanted"),
        (("blame", "cream@nowhere"), "unknown revision 'nowhere'"),
    ):
        said = run(capsys, *words)
        assert (2, "") == (said.status, said.out)
        assert because in said.err
    shed.write({"cream.toml": "[[["})
    said = run(capsys, "blame", "cream")
    assert 2 == said.status
    assert "cream.toml:1:" in said.err


@pytest.mark.parametrize("form", ["text", "json", "markdown"])
def test_hostile_words_do_nothing(shed: Shed, capsys: Capsys, form: str) -> None:
    subject = HOSTILE.replace("\n", " ")
    shed.edit(
        f"{subject}\n\nReason: {subject}", ('title = "Cream"', f'title = "{HOSTILE_TOML}"\nnote = "{HOSTILE_TOML}"')
    )

    out = run(capsys, "blame", "cream", "--format", form).out

    assert "\x1b" not in out
    assert "\u202e" not in out
    assert "<b>" not in out or form != "markdown"
    assert not any(line.lstrip().startswith(("::error", "::warning", "##[")) for line in out.splitlines())

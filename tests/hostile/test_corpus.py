"""Pull requests that mean ill, through every command in every format: no crash, no hang, nothing takes effect.

Chromium looks at the pages in ``test_page.py``; here their text is read.
"""

from __future__ import annotations

import argparse
import json
import os
import re
import shutil
import subprocess
import sys
from functools import cache
from html.parser import HTMLParser
from importlib import import_module
from pathlib import Path
from typing import Any, Final

import pytest

from formula_vcs.cli import COMMANDS
from tests import helpers_hosts
from tests.conftest import MINIMAL, GitRepo
from tests.hostile.corpus import CASES, RECORDS

ROOT: Final = Path(__file__).resolve().parents[2]
DRIVER: Final = Path(__file__).parent / "driver.py"
# No command may work longer.  Two on one core, as in a full run, are slower each: a factor.
SECONDS: Final = 5.0 * float(os.environ.get("HOSTILE_FACTOR", "2"))
RANGE: Final = "HEAD~1..HEAD"
# what each command is asked here, in all formats that it has
ASKED: Final[dict[str, list[list[str]]]] = {
    "check": [[]],
    "show": [["cream"], ["cream", "--evidence"], ["cream", "--approvals"]],
    "diff": [[RANGE]],
    "review": [[RANGE]],
    "label": [["cream"]],
    "uses": [["glycerin"], ["--lot", "glycerin-1"]],
    "explain": [["glycerin"]],
    "survey": [["--price", "glycerin=+5 %"]],
    "propose": [["cream", "--target", "glycerin at most 4 %", "--move", "glycerin"]],
    "help": [[], ["begin"]],
    "batch": [["cream", "--dry-run", "--size", "1 kg"], ["sheet", "b2"], ["cost", "b2"]],
    "log": [["cream", "--figure", "cost_per_kg", "--above", "0.2"]],
    "blame": [["cream"]],
    "trace": [["b1", "b2"], ["b2", "--against", "cream"]],
    "list": [[]],
    "document": [["composition", "cream"], ["claims", "cream"]],
    "export": [["recipes", "cream"], ["composition"]],
}
# the same writers, or nearly so, behind another question: in few formats
ALSO: Final[dict[str, list[list[str]]]] = {
    "check": [["--merge", "HEAD", "side"], ["--horizon", "2y"]],
    "show": [["ingredient:glycerin"], ["cream", "--process", "--preservation"]],
    "trace": [["b2", "--against-recipe"]],
    "export": [["prices"], ["allergens"], ["portfolio"], ["comparison", "cream@HEAD~1", "cream@HEAD"]],
    "document": [
        ["allergens", "cream"],
        ["ingredients", "cream"],
        ["instructions", "cream"],
        ["specification", "cream"],
        ["change-note", "cream", "--since", "HEAD~1"],
    ],
    "uses": [["--inci", "Glycerin"], ["--entry", "III/24"], ["--function", "humectant"]],
}
# what git and its hooks ask, of what is staged; the driver of merges is given three versions of a file
STAGED: Final = (["check", "--staged", "--hook"], ["review", "--staged"], ["reason", ".git/description"])
FILE: Final = "cream.toml"
# these write files of their own, or speak to an editor: they are tried on hostile input by their own tests (approve:
# tests/approvals, serve-editor: tests/editor); "schema" reads none
NOT_HERE: Final = {"init", "demo", "import", "new", "approve", "schema", "serve-editor"}
BRIEF: Final = {
    "check": ("text", "sarif"), "review": ("html", "markdown"), "show": ("json",), "label": ("markdown",),
    "document": ("markdown",),
}  # fmt: skip
SLOW: Final = (
    "charges", "steps", "premixes", "packs", "bytes", "long words", "10,000", "250", "records", "proofs", "numbers",
)  # fmt: skip

_ACTIVE: Final = re.compile("[\x00-\x09\x0b-\x1f\x7f-\x9f\u200b-\u200f\u2028-\u202e\u2066-\u2069\ufeff]")
# what a report gives people to read besides text
_TAGS: Final = {"script", "img", "iframe", "object", "embed", "form", "link", "base", "audio", "video", "foreignobject"}


@cache
def formats(command: str) -> tuple[str, ...]:
    """Give the formats that a command offers."""
    parser = argparse.ArgumentParser()
    import_module(f"formula_vcs.commands.{COMMANDS[command][0]}").arguments(parser)
    found = [action.choices for action in parser._actions if "--format" in action.option_strings]
    return tuple(found[0] or ()) if found else ()


def plan(*, brief: bool) -> list[list[str]]:
    """Give all that is asked; of what is large not in every format, as the work behind them is the same."""
    asked = []
    for command in COMMANDS:
        few = BRIEF.get(command, ("text",))
        for questions, all_of_them in ((ASKED, not brief), (ALSO, False)):
            for words in questions.get(command, []):
                names = [name for name in formats(command) if all_of_them or name in few]
                asked += [[command, *words, "--format", name] for name in names] or [[command, *words]]
    return asked


def test_every_command_is_tried_or_said_not_to_be() -> None:
    assert {*COMMANDS} == {*ASKED, *NOT_HERE}


class _Page(HTMLParser):
    """Collects what could act in a page."""

    def __init__(self) -> None:
        super().__init__()
        self.active: list[str] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        """Note a tag or an attribute that acts."""
        self.active += [tag] if tag in _TAGS else []
        for name, value in attrs:
            address = name in {"href", "src", "xlink:href", "action", "formaction"} and not (value or "").startswith(
                "#"
            )
            if name.startswith("on") or address:
                self.active.append(f"{tag} {name}={value}")


def text(out: str) -> None:
    """See that a terminal and a runner take nothing for theirs."""
    assert not _ACTIVE.search(out)
    assert not [line for line in out.splitlines() if line.lstrip().startswith("::") or re.search(r"##\w*\[", line)]


def page(out: str) -> None:
    """See that nothing in a page acts."""
    assert not _ACTIVE.search(out)
    reader = _Page()
    reader.feed(out)
    assert [] == reader.active
    assert "Content-Security-Policy" in out


def markdown(out: str) -> None:
    """See that markdown renders without anything of theirs."""
    text(out)
    helpers_hosts.markdown(out)


def github(out: str) -> None:
    """See that each line is one command of ours, and none says more."""
    assert not _ACTIVE.search(out)
    for command in helpers_hosts.github(out):
        assert not re.search(r"##\w*\[", command["message"])
        text(command["message"].replace("\n", " "))


def _ascii(read: Any) -> Any:
    def checked(out: str) -> None:
        assert out.isascii()
        read(out)

    return checked


READ: Final[dict[str, Any]] = {
    "text": text,
    "markdown": markdown,
    "html": page,
    "json": _ascii(json.loads),
    "github": github,
    "gitlab": _ascii(helpers_hosts.gitlab),
    "sarif": _ascii(helpers_hosts.sarif),
    "junit": _ascii(helpers_hosts.junit),
}


def cells(out: str) -> None:
    """See that no cell of a table is a formula to a spreadsheet (OWASP, "CSV Injection")."""
    import csv
    import io

    for row in csv.reader(io.StringIO(out)):
        for cell in row:
            assert len(cell) <= 32_767
            assert not cell.startswith(("=", "+", "@", "\t", "\r", "\uff1d", "\uff0b", "\uff0d", "\uff20")), cell
            assert not cell.startswith("-") or re.fullmatch(r"-[\d.]+", cell), cell


def pdf(out: str) -> None:
    """See that it is one; what it shows is looked at where sheets are tested."""
    assert out.startswith("%PDF-")


def archive(out: str) -> None:
    """See that it is one; what is in it is looked at where documents are tested."""
    assert out.startswith("PK")


READ.update(csv=cells, pdf=pdf, docx=archive)


def judge(row: dict[str, Any]) -> None:
    """Hold one run against all that is promised."""
    words = row["words"]
    assert row["status"] in {0, 1, 2}, row["err"]
    assert "Traceback" not in row["err"]
    assert "merged line by line" not in row["err"]
    assert row["seconds"] <= SECONDS
    text(row["err"])
    assert "root:x:" not in row["out"]
    if row["status"] == 2:
        assert "" == row["out"]
        assert row["err"]
        return
    name = words[words.index("--format") + 1] if "--format" in words else "text"
    READ[name](row["out"])
    if words[0] == "review" and name == "markdown":
        assert len(row["out"].encode()) < 65_536
        assert row["out"].startswith("<!-- git-formula:review -->\n")


@pytest.fixture(scope="module")
def before(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Build the workspace once as it was before: a recipe, what was made and proven of it, another branch."""
    path = tmp_path_factory.mktemp("before")
    repo = GitRepo(path)
    repo.commit("first", MINIMAL)
    repo.git("branch", "base")
    repo.git("switch", "--quiet", "--create", "side")
    repo.commit("side", {FILE: MINIMAL[FILE].replace('"low"', '"fold"')})
    repo.git("switch", "--quiet", "main")
    base = repo.git("rev-parse", "base")
    repo.commit("records", {name: text.replace("@base@", base) for name, text in RECORDS.items()})
    return path


def ask(repo: GitRepo, asked: list[list[str]]) -> list[dict[str, Any]]:
    """Run commands one after the other in a process of their own, and give what each did."""
    plan_file, results = (repo.path.parent / name for name in ("plan.json", "results"))
    plan_file.write_text(json.dumps(asked), "utf-8")
    done = subprocess.run(
        [sys.executable, DRIVER, plan_file, results],
        cwd=repo.path,
        env={**os.environ, "PYTHONPATH": str(ROOT), "FORMULA_TRACEBACK": "1"},
        capture_output=True,
        check=False,
        timeout=SECONDS * len(asked),
    )
    assert 0 == done.returncode, done.stderr.decode()
    rows = [json.loads(line) for line in results.read_text("utf-8").splitlines()]
    assert len(asked) == len(rows)
    return rows


def versions(repo: GitRepo, folder: Path) -> list[str]:
    """Write the three versions of a file that a merge of the branch would give its driver, and the words of git."""
    names = []
    for label, revision in (("base", "base"), ("ours", "HEAD"), ("theirs", "side")):
        names.append(str(folder / label))
        done = subprocess.run(
            ["git", "cat-file", "blob", f"{revision}:{FILE}"], cwd=repo.path, check=True, capture_output=True
        )
        (folder / label).write_bytes(done.stdout)
    return [*names, "7", FILE, "base", "main", "side"]


@pytest.mark.parametrize(
    "name",
    [pytest.param(name, marks=[pytest.mark.slow] if any(word in name for word in SLOW) else []) for name in CASES],
)
def test_nothing_of_theirs_takes_effect(name: str, before: Path, git_repo: Any, tmp_path: Path) -> None:
    shutil.copytree(before, tmp_path / "work")
    repo = GitRepo(tmp_path / "work")
    CASES[name]().write(repo.path)
    (tmp_path / "outside.toml").write_text('title = "root:x:outside"\n', "utf-8")
    repo.commit("hostile")
    given = versions(repo, tmp_path)

    changed = ["diff-driver", FILE, given[0], "0" * 40, "100644", given[1], "1" * 40, "100644"]

    rows = ask(repo, [*plan(brief=any(word in name for word in SLOW)), changed, ["merge-driver", *given]])
    assert "" == repo.git("status", "--porcelain")
    repo.git("reset", "--soft", "HEAD~1")
    rows += ask(repo, [*STAGED])

    failed = []
    for row in rows:
        try:
            judge(row)
        except Exception as error:  # noqa: BLE001 - all that is wrong with a case is said at once
            failed.append(f"{' '.join(row['words'])}: {type(error).__name__}: {str(error)[:1500]}")
    assert not failed, "\n".join(failed)
    assert not [*tmp_path.rglob("pwned")]

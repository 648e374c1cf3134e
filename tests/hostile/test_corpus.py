"""Pull requests that mean ill, through every command in every format: no crash, no hang, nothing takes effect.

Chromium looks at the pages in ``test_page.py``; here their text is read.
"""

from __future__ import annotations

import argparse
import json
import os
import re
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
from tests.hostile.corpus import CASES

ROOT: Final = Path(__file__).resolve().parents[2]
DRIVER: Final = Path(__file__).parent / "driver.py"
# No command may take longer.  A machine that is busy with other tests is slower than one that is not: a factor.
SECONDS: Final = 5.0 * float(os.environ.get("HOSTILE_FACTOR", "4"))
RANGE: Final = "HEAD~1..HEAD"
# what each command is asked here; one that has formats is asked in all of them
ASKED: Final[dict[str, list[list[str]]]] = {
    "check": [[]],
    "show": [["cream"], ["ingredient:glycerin"]],
    "diff": [[RANGE]],
    "review": [[RANGE]],
    "label": [["cream"]],
    "uses": [["glycerin"]],
    "batch": [["cream", "--dry-run", "--size", "1 kg"]],
    "log": [["cream"]],
    "blame": [["cream"]],
    "trace": [["cream@HEAD~1", "cream@HEAD"]],
}
# these write, or read files of another kind: they are tried on hostile input by their own tests
NOT_HERE: Final = {"init", "demo", "import", "export", "survey", "evidence"}
BRIEF: Final = {"check": ("sarif",), "review": ("html", "markdown", "github"), "show": ("json",), "diff": ("markdown",)}
SLOW: Final = ("charges", "steps", "premixes", "rule packs", "bytes", "long words", "10,000")

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
        for words in ASKED.get(command, []):
            names = [name for name in formats(command) if not brief or name in BRIEF.get(command, ("text",))]
            asked += [[command, *words, "--format", name] for name in names] or [[command, *words]]
    return asked


def test_every_command_is_tried_or_said_not_to_be() -> None:
    assert {*COMMANDS} <= {*ASKED, *NOT_HERE}


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
            assert not cell.startswith(("=", "+", "@", "\t", "\r")), cell
            assert not cell.startswith("-") or re.fullmatch(r"-[\d.]+", cell), cell


def pdf(out: str) -> None:
    """See that it is one; what it shows is looked at where sheets are tested."""
    assert out.startswith("%PDF-")


READ.update(csv=cells, pdf=pdf)


def judge(row: dict[str, Any]) -> None:
    """Hold one run against all that is promised."""
    words = row["words"]
    assert row["status"] in {0, 1, 2}, row["err"]
    assert "Traceback" not in row["err"]
    assert row["seconds"] <= SECONDS
    text(row["err"])
    assert "root:x:" not in row["out"]
    if row["status"] == 2:
        assert "" == row["out"]
        assert row["err"]
        return
    name = words[words.index("--format") + 1] if "--format" in words else "text"
    if words[0] == "batch" and row["status"] == 1:
        name = "text"  # what blocks is said instead of a sheet
    READ[name](row["out"])
    if words[0] == "review" and name == "markdown":
        assert len(row["out"].encode()) < 65_536
        assert row["out"].startswith("<!-- git-formula:review -->\n")


@pytest.mark.parametrize(
    "name",
    [pytest.param(name, marks=[pytest.mark.slow] if any(word in name for word in SLOW) else []) for name in CASES],
)
def test_nothing_of_theirs_takes_effect(name: str, git_repo: Any, tmp_path: Path) -> None:
    repo: GitRepo = git_repo(dict(MINIMAL))
    CASES[name]().write(repo.path)
    (tmp_path / "outside.toml").write_text('title = "root:x:outside"\n', "utf-8")
    repo.commit("hostile")
    asked = plan(brief=any(word in name for word in SLOW))
    (tmp_path / "plan.json").write_text(json.dumps(asked), "utf-8")

    done = subprocess.run(
        [sys.executable, DRIVER, tmp_path / "plan.json", tmp_path / "results"],
        cwd=repo.path,
        env={**os.environ, "PYTHONPATH": str(ROOT), "FORMULA_TRACEBACK": "1"},
        capture_output=True,
        check=False,
        timeout=SECONDS * len(asked),
    )

    rows = [json.loads(line) for line in (tmp_path / "results").read_text("utf-8").splitlines()]
    assert 0 == done.returncode, done.stderr.decode()
    assert len(asked) == len(rows)
    failed = []
    for row in rows:
        try:
            judge(row)
        except Exception as error:  # noqa: BLE001 - all that is wrong with a case is said at once
            failed.append(f"{' '.join(row['words'])}: {type(error).__name__}: {str(error)[:1500]}")
    assert not failed, "\n".join(failed)
    assert not [*tmp_path.rglob("pwned")]
    assert "" == repo.git("status", "--porcelain")

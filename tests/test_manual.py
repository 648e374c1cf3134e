"""The manual agrees with what there is: the keys of every file, the chapters that are named."""

from __future__ import annotations

import re
import sys
import tomllib
from collections.abc import Iterator
from pathlib import Path
from subprocess import run
from typing import Any

import pytest

from formula_vcs.setup.shipped import chapters
from formula_vcs.toml.file_schema import MUST, NAMED, keys
from formula_vcs.toml.readers import READERS
from formula_vcs.usage.keys_chapter import CHAPTER, chapter

ROOT = Path(__file__).resolve().parents[1]


def test_the_keys_of_the_manual_are_those_of_the_readers() -> None:
    assert CHAPTER.read_text("utf-8") == chapter()  # .ci/compile writes it anew


@pytest.mark.parametrize(
    ("kind", "row"),
    [
        ("recipe", ("step[].scale", "one of tip speed, power per volume, blend time, gap shear", False)),
        ("recipe", ("step[].id", "an id: letters, digits and hyphens", True)),
        ("recipe", ("step[].title", 'a text in quotes, "..."', False)),
        ("recipe", ("phase.A.charge.ID.at_most", "a bare number, %, 0 to 100", False)),
        ("ingredients", ("price[].cost", 'a price, e.g. "4.80 EUR/kg" or a price by volume, in quotes', True)),
        ("ingredients", ("origin.natural", '0.85 or "18/104"', False)),
        ("ingredients", ("hlb", "a bare number", False)),
        (
            "batches",
            ("phase.A.charge.ID.lots[].at", "a date with a time and without quotes, 2026-03-04T09:30:00", False),
        ),
        ("rules", ("pair[].first", "one of one, other", False)),
    ],
)
def test_a_key_says_what_it_takes_and_whether_it_must_be_there(kind: str, row: tuple[str, str, bool]) -> None:
    assert row in keys(kind)


def test_every_kind_of_file_has_its_table() -> None:
    text = CHAPTER.read_text("utf-8")

    assert text.count("\n## ") == len(READERS)
    assert MUST in text


def pattern_of(path: str) -> re.Pattern[str]:
    """Give the pattern of the paths that a key of the chapter stands for: names in capitals are anybody's."""
    parts = (".+" if part in NAMED.values() or part == "NAME" else re.escape(part) for part in path.split("."))
    return re.compile(r"\.".join(parts))


def _paths(data: dict[str, Any], path: str = "") -> Iterator[str]:
    for key, value in data.items():
        here = f"{path}{key}"
        yield here
        rows = value if isinstance(value, list) else []
        for row in rows:
            if isinstance(row, dict):
                yield from _paths(row, f"{here}[].")
        if isinstance(value, dict):
            yield from _paths(value, f"{here}.")


@pytest.mark.parametrize("kind", ["recipe", "ingredients", "equipment", "lots"])
def test_every_key_of_the_demo_is_in_the_manual(kind: str) -> None:
    patterns = [pattern_of(key.path) for key in keys(kind)]
    folders = {"recipe": ("*.toml", "premixes/*.toml")}.get(kind, (f"{kind}/*.toml",))
    files = [file for folder in folders for file in (ROOT / "recipes").glob(folder) if file.name != "workspace.toml"]
    used = {path for file in files for path in _paths(tomllib.loads(file.read_text("utf-8")))}

    assert len(files) > 2
    assert [path for path in sorted(used) if not any(pattern.fullmatch(path) for pattern in patterns)] == []


def test_every_chapter_that_is_named_is_there() -> None:
    texts = [chapter.text for chapter in chapters().values()] + [(ROOT / "README.md").read_text("utf-8")]
    named = {name for text in texts for name in re.findall(r"formula_vcs/manual/([\w-]+)\.md", text)}

    assert named - set(chapters()) == set()


def test_every_chapter_is_in_the_table_of_the_readme() -> None:
    readme = (ROOT / "README.md").read_text("utf-8")

    assert set(re.findall(r"\]\(formula_vcs/manual/([\w-]+)\.md\)", readme)) == set(chapters())
    assert len(readme.splitlines()) < 250


def test_the_picture_of_the_readme_is_there_and_small() -> None:
    (picture,) = re.findall(r"!\[[^\]]+\]\(([^)]+)\)", (ROOT / "README.md").read_text("utf-8"))

    assert (ROOT / picture).read_bytes().startswith(b"\x89PNG")
    assert (ROOT / picture).stat().st_size < 150_000


FIVE = re.compile(r"^<!-- five minutes -->\n(.*?)^<!-- end of five minutes -->$", re.MULTILINE | re.DOTALL)
FENCE = re.compile(r"^```(sh|text)\n(.*?)^```$", re.MULTILINE | re.DOTALL)
# what refuses, as it is meant to: a commit, and a review of what blocks
REFUSED = {
    'git commit -am "Use one silica"',
    "git formula review main...proposal",
    "git formula review main...proposal --format html > review.html",
}


@pytest.mark.slow
def test_the_five_minutes_of_the_readme_run_as_written(tmp_path: Path) -> None:
    """All commands in their order, in one shell; each sample of what is printed stands in what was printed."""
    activate = tmp_path / "clone" / ".venv" / "bin" / "activate"
    activate.parent.mkdir(parents=True)
    activate.write_text(f'PATH="{Path(sys.executable).parent}:$PATH"\n')
    (part,) = FIVE.findall((ROOT / "README.md").read_text("utf-8"))
    fences = FENCE.findall(part)
    commands = [line for kind, text in fences if kind == "sh" for line in text.splitlines()]
    script = "".join(f'{line}\necho "<exit $?>" >&2\n' for line in commands)
    done = run(
        ["bash", "-c", script],
        cwd=tmp_path / "clone", capture_output=True, text=True, check=True, timeout=300,
    )  # fmt: skip
    ended = [int(status) for status in re.findall(r"^<exit (\d+)>$", done.stderr, re.MULTILINE)]

    expected = [int(line in REFUSED) for line in commands]
    assert list(zip(commands, ended, strict=True)) == list(zip(commands, expected, strict=True))
    said = done.stdout + done.stderr
    assert [text for kind, text in fences if kind == "text" and text not in said] == []

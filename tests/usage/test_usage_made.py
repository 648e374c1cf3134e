"""What is made from the parsers is current, and does what it is for in a real shell."""

from __future__ import annotations

import argparse
import shutil
import subprocess
from pathlib import Path

import pytest

from formula_vcs.cli import COMMANDS, parser_of
from formula_vcs.usage.chapter import CHAPTER, chapter
from formula_vcs.usage.command_words import CommandWords, commands
from formula_vcs.usage.compile_usage import made
from formula_vcs.usage.manual_page import manual_page
from formula_vcs.usage.zsh import completion
from tests.conftest import MINIMAL

MANUAL = Path(__file__).resolve().parents[2] / "formula_vcs" / "manual"
BASH = MANUAL / "completions" / "git-formula.bash"
OF_GIT = Path("/usr/share/bash-completion/completions/git")
PART = "<!-- by hand -->\n\nKept.\n"


def test_what_is_made_from_the_parsers_is_current() -> None:
    stale = [path.name for path, text in made().items() if path.read_text("utf-8") != text]

    assert [] == stale, "run .ci/compile, also to end a conflict in one of these"


def test_the_chapter_has_every_word_of_every_command() -> None:
    text = CHAPTER.read_text("utf-8")
    sections = {part.partition("`")[0]: part for part in text.split("\n## `git formula ")[1:]}

    assert list(COMMANDS) == list(sections)
    for name in COMMANDS:
        for action in parser_of(name)._actions:
            if not isinstance(action, argparse._HelpAction):
                assert all(option in sections[name] for option in action.option_strings), (name, action.dest)


def _command(name: str) -> CommandWords:
    return CommandWords(name, "do it", f"usage: git formula {name} [-h]", ())


def test_a_new_command_gets_its_section_and_what_was_written_by_hand_stays() -> None:
    text = f"# The commands\n\nHead.\n\n## `git formula old`\n\n{PART}\n## Called by git\n\nTail.\n"

    assert chapter([_command("new"), _command("old")], text) == (
        "# The commands\n\nHead.\n\n"
        "## `git formula new`\n\n<!-- from the parser -->\nDo it.\n\n```text\nusage: git formula new [-h]\n```\n\n"
        "<!-- by hand -->\n\n"
        "## `git formula old`\n\n<!-- from the parser -->\nDo it.\n\n```text\nusage: git formula old [-h]\n```\n\n"
        f"{PART}\n## Called by git\n\nTail.\n"
    )


def test_the_section_of_a_command_that_is_gone_goes() -> None:
    text = f"# The commands\n\n## `git formula gone`\n\n{PART}\n## `git formula old`\n\n{PART}\n## Called by git\n"

    assert "gone" not in chapter([_command("old")], text)


@pytest.mark.skipif(shutil.which("groff") is None, reason="needs groff")
def test_the_manual_page_is_formatted_without_a_warning() -> None:
    done = subprocess.run(
        ["groff", "-man", "-ww", "-rLL=80n", "-Tutf8"],
        input=(MANUAL / "git-formula.1").read_bytes(), capture_output=True, check=True,
    )  # fmt: skip
    out = done.stdout.decode()

    assert b"" == done.stderr
    for name in COMMANDS:
        assert f"git formula {name}" in out


def test_the_manual_page_is_made_of_all_of_the_chapter() -> None:
    from formula_vcs.setup.shipped import chapters

    page = manual_page(chapters()["commands"])

    assert len(COMMANDS) <= page.count('.SS "git formula ')
    for part in ("Environment", "Files", "Exit status", "Examples", "Cautions"):
        assert f'.SH "{part}"' in page


def _completed(words: list[str], folder: Path) -> set[str]:
    """Give what bash would offer, as it calls the function of git's own completion."""
    script = f"""
        source {OF_GIT}; source {BASH}
        COMP_WORDS=({" ".join(f"'{word}'" for word in words)}); COMP_CWORD={len(words) - 1}
        COMP_LINE="${{COMP_WORDS[*]}}"; COMP_POINT=${{#COMP_LINE}}
        __git_wrap__git_main
        printf '%s\\n' "${{COMPREPLY[@]}}"
    """
    done = subprocess.run(
        ["bash", "--norc", "-c", script], cwd=folder, capture_output=True, text=True, check=True, timeout=30
    )
    return {line.strip() for line in done.stdout.splitlines()}


@pytest.fixture
def lab(tmp_path: Path) -> Path:
    more = {"premixes/salt-water.toml": "", "lots/kelp-1.toml": ""}
    for name, text in {**MINIMAL, **more}.items():
        (tmp_path / name).parent.mkdir(exist_ok=True)
        (tmp_path / name).write_text(text)
    return tmp_path


@pytest.mark.skipif(not OF_GIT.exists(), reason="needs git's own completion for bash")
@pytest.mark.parametrize(
    ("typed", "some", "not_this"),
    [
        (["git", "formula", ""], {"check", "import", "help"}, "cream"),
        (["git", "formula", "show", ""], {"cream", "salt-water", "glycerin"}, "workspace"),
        (["git", "formula", "label", ""], {"cream", "salt-water"}, "glycerin"),
        (["git", "formula", "uses", "g"], {"glycerin"}, "cream"),
        (["git", "formula", "uses", "--lot", ""], {"kelp-1"}, "glycerin"),
        (["git", "formula", "log", "--charge", ""], {"glycerin"}, "cream"),
        (["git", "formula", "check", "--f"], {"--fail-on=", "--format="}, "--figure="),
        (["git", "formula", "check", "--format", "j"], {"json", "junit"}, "html"),
        (["git", "formula", "list", "p"], {"premixes"}, "recipes"),
        (["git", "formula", "help", "dec"], {"deceptive-names"}, "deadlines"),
        (["git", "formula", "batch", ""], {"sheet", "record", "cost", "cream"}, "glycerin"),
        (["git", "formula", "log", "--figure", "cost"], {"cost_per_kg", "cost_per_pack"}, "density"),
    ],
)
def test_bash_offers_what_the_command_takes_here(typed: list[str], some: set[str], not_this: str, lab: Path) -> None:
    found = _completed(typed, lab)

    assert some <= found
    assert not_this not in found


def test_the_zsh_completion_quotes_what_zsh_would_take_for_its_own() -> None:
    text = completion(commands())

    assert "'(--staged --merge)--rev=[check a commit]:rev:_git-formula-revisions'" in text
    assert "(default\\: today)" in text
    unclosed = [line for line in text.splitlines() if line.lstrip().startswith("'") and line.count("'") % 2]
    assert [] == unclosed

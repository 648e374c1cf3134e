"""The chapter of the commands: what is written by hand stays, the words of each command come from its parser."""

from __future__ import annotations

import re
from collections.abc import Iterable
from typing import Final

from formula_vcs.setup.shipped import FOLDER
from formula_vcs.usage.command_words import CommandWords, Word
from formula_vcs.words.late_pattern import late_pattern

CHAPTER: Final = FOLDER / "commands.md"
_BEGIN: Final = "<!-- from the parser -->"
_END: Final = "<!-- by hand -->"
_LAST: Final = "## Called by git"
_SECTION: Final = late_pattern(r"^## `git formula ([\w-]+)`\n(.*?)(?=^## )", re.MULTILINE | re.DOTALL)


def chapter(known: Iterable[CommandWords], text: str) -> str:
    """Write the chapter anew; what was written by hand about a command follows its words.

    A command without a section gets one, and that of a command which is gone goes.
    """
    by_hand = {name: body.partition(_END)[2].strip() for name, body in _SECTION.findall(text)}
    head = text[: text.index("## `git formula")] if by_hand else text.partition(_LAST)[0]
    tail = text[text.index(f"\n{_LAST}") :] if _LAST in text else ""
    return head + "\n".join(_section(command, by_hand.get(command.name, "")) for command in known) + tail


def _section(command: CommandWords, by_hand: str) -> str:
    words = [_line(word) for word in command.words if word.help]
    parts = [
        f"## `git formula {command.name}`",
        "",
        _BEGIN,
        f"{command.summary[0].upper()}{command.summary[1:]}.",
        "",
        "```text",
        command.usage,
        "```",
        "",
        *words,
        *([""] if words else []),
        _END,
        *(["", by_hand] if by_hand else []),
        "",
    ]
    return "\n".join(parts)


def _line(word: Word) -> str:
    named = word.written().replace("|", "\\|") if "`" in word.written() else word.written()
    return f"- `{named}`: {_escaped(word.help)}"


def _escaped(words: str) -> str:
    """Keep what Markdown would take for its own: a * of a pattern, a < of a comparison."""
    return re.sub(r"([*_<\[\]])", r"\\\1", words) if "`" not in words else words

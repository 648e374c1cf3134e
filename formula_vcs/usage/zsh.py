"""The completion for zsh: each command's words, put into the part that never changes."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path
from typing import Final

from formula_vcs.figures.figure_table import FIGURES
from formula_vcs.usage.command_words import CommandWords, Word

TEMPLATE: Final = Path(__file__).with_name("_git-formula.in")
_BY: Final = {
    "recipes": "_git-formula-id",
    "files": "_git-formula-id",
    "ingredients": "_git-formula-ingredients",
    "equipment": "_git-formula-equipment",
    "lots": "_git-formula-lots",
    "batches": "_git-formula-batches",
    "revisions": "_git-formula-revisions",
    "paths": "_files",
    "folders": "_directories",
}
_RANGE: Final = "_git-formula-range-or-file"
_WORDS: Final = str.maketrans({"\\": "\\\\", "[": "\\[", "]": "\\]", ":": "\\:", "'": "’", "`": ""})


def completion(known: Iterable[CommandWords]) -> str:
    """Write the completion."""
    listed = list(known)
    summaries = "\n".join(f"        '{command.name}:{_plain(command.summary)}'" for command in listed)
    text = TEMPLATE.read_text("utf-8").replace("@COMMANDS@", summaries)
    return text.replace("@CASES@", "\n".join(_case(command) for command in listed))


def _case(command: CommandWords) -> str:
    specs = [spec for word in command.options for spec in _option(word)]
    specs += [_place(word, number) for number, word in enumerate(command.places, 1)]
    lines = " \\\n".join(f"            {spec}" for spec in specs)
    return f"        ({command.name})\n          _arguments $help \\\n{lines} && ret=0\n          ;;"


def _option(word: Word) -> list[str]:
    """Write an option; each of its names is a line, which excludes the others."""
    again = "*" if word.many else ""
    found = []
    for name in word.names:
        others = [] if word.many else [other for other in word.names if other != name]
        against = " ".join((*others, *word.against))
        excluded = f"({against})" if against else ""
        takes = "".join(f":{_plain(value.lower())}:{_action(word)}" for value in word.values)
        equals = "=" if len(word.values) == 1 and name.startswith("--") else ""
        found.append(f"'{excluded}{again}{name}{equals}[{_plain(word.help)}]{takes}'")
    return found


def _place(word: Word, number: int) -> str:
    return f"'{'*' if word.many else number}:{_plain(' '.join(word.values).lower())}:{_action(word)}'"


def _action(word: Word) -> str:
    fixed = [*word.choices, *(offer[1:] for offer in word.offers if offer.startswith("="))]
    fixed += FIGURES if "figures" in word.offers else []
    named = [_BY[offer] for offer in word.offers if offer in _BY]
    if not word.is_option and "_git-formula-revisions" in named:
        return _RANGE
    if fixed and named:
        return f'_alternative "words\\:word\\:({" ".join(fixed)})" "ids\\:id\\:{named[0]}"'
    return f"({' '.join(fixed)})" if fixed else next(iter(named), "")


def _plain(words: str) -> str:
    return words.translate(_WORDS)

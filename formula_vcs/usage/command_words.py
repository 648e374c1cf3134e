"""What can be typed after each command, as its parser has it."""

from __future__ import annotations

import argparse
from collections.abc import Iterator
from typing import Final

from formula_vcs.cli import COMMANDS, parser_of
from formula_vcs.model.values import dataclass
from formula_vcs.words.late_pattern import late_pattern

# what a word stands for, where a shell can offer something; every other word is typed
OFFERS: Final = {
    "RECIPE": "recipes",
    "RECIPE[@REV]": "recipes",
    "ID[@REV]": "files",
    "INGREDIENT": "ingredients",
    "INGREDIENT[@REV]": "ingredients",
    "EQUIPMENT": "equipment",
    "LOT": "lots",
    "BATCH": "batches",
    "REV": "revisions",
    "A": "revisions",
    "B": "revisions",
    "PATH": "paths",
    "FILE": "paths",
    "FIGURE": "figures",
    "CSV": "paths",
    "DIR": "folders",
}
_BETWEEN: Final = late_pattern(r"\s*\|\s*")


@dataclass(frozen=True, slots=True)
class Word:
    """One option, or one word without a name.

    ``values`` are the names of what follows an option, ``choices`` the only words that are taken there, ``offers`` what
    a shell offers for it: kinds of names, and words after "=".  ``against`` are options that exclude it.
    """

    names: tuple[str, ...]
    values: tuple[str, ...]
    choices: tuple[str, ...]
    offers: tuple[str, ...]
    many: bool
    must: bool
    help: str
    against: tuple[str, ...] = ()

    @property
    def is_option(self) -> bool:
        """Whether it begins with a dash."""
        return bool(self.names)

    def written(self) -> str:
        """Write it as it is typed."""
        return " ".join((", ".join(self.names), *self.values)).strip()


@dataclass(frozen=True, slots=True)
class CommandWords:
    """A command: its name, what it is for, its line of usage, its words in the order of its help."""

    name: str
    summary: str
    usage: str
    words: tuple[Word, ...]

    @property
    def options(self) -> tuple[Word, ...]:
        """Its options, but the one for help."""
        return tuple(word for word in self.words if word.is_option)

    @property
    def places(self) -> tuple[Word, ...]:
        """Its words without a name, in their order."""
        return tuple(word for word in self.words if not word.is_option)


def commands() -> Iterator[CommandWords]:
    """Ask the parser of each command that people type."""
    for name, (_, summary) in COMMANDS.items():
        parser = parser_of(name)
        yield CommandWords(name, summary, parser.format_usage().strip(), tuple(_words(parser)))


def _words(parser: argparse.ArgumentParser) -> Iterator[Word]:
    for action in parser._actions:  # noqa: SLF001 - argparse tells it nowhere else
        if not isinstance(action, argparse._HelpAction):  # noqa: SLF001 - as above
            yield _word(parser, action)


def _word(parser: argparse.ArgumentParser, action: argparse.Action) -> Word:
    named = action.metavar if action.metavar is not None else action.dest.upper().replace("_", "-")
    values = () if action.nargs == 0 else named if isinstance(named, tuple) else (named,)
    choices = tuple(map(str, action.choices or ()))
    offers = dict.fromkeys(offer for value in values for offer in _offers(value))
    more: dict[str, tuple[str, ...]] = parser.get_default("offered") or {}
    name = action.option_strings[-1] if action.option_strings else ""
    offers |= dict.fromkeys(f"={word}" for word in more.get(name, ()))
    many = isinstance(action, argparse._AppendAction) or (  # noqa: SLF001 - as above
        not action.option_strings and action.nargs in ("*", "+")
    )
    must = action.required if action.option_strings else action.nargs not in ("*", "?")
    words = (action.help or "") % {"default": action.default}
    return Word(
        tuple(action.option_strings), values, choices, tuple(offers), many, must, words, _against(parser, action)
    )


def _offers(value: str) -> Iterator[str]:
    """Give what a shell offers for a word: kinds of names, and as they stand the words that are in small letters."""
    for part in _BETWEEN.split(value):
        for word in part.split():
            if word in OFFERS:
                yield OFFERS[word]
            elif word.islower() and word.isalpha():
                yield f"={word}"


def _against(parser: argparse.ArgumentParser, action: argparse.Action) -> tuple[str, ...]:
    groups = parser._mutually_exclusive_groups  # noqa: SLF001 - as above
    others = (other for group in groups if action in group._group_actions for other in group._group_actions)  # noqa: SLF001
    return tuple(name for other in others if other is not action for name in other.option_strings)

"""The completion for bash: what each option takes and each command offers, put into the part that never changes."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from pathlib import Path
from typing import Final

from formula_vcs.figures.figure_table import FIGURES
from formula_vcs.usage.command_words import CommandWords, Word

TEMPLATE: Final = Path(__file__).with_name("git-formula.bash.in")
_IDS: Final = frozenset(("recipes", "ingredients", "equipment", "lots", "batches"))


def completion(known: Iterable[CommandWords]) -> str:
    """Write the completion."""
    listed = list(known)
    parts = {
        "VALUES": "".join(_values(listed)),
        "COMMANDS": " ".join(command.name for command in listed),
        "OPTIONS": "".join(_options(command) for command in listed),
        "PLACES": "".join(filter(None, (_places(command) for command in listed))),
    }
    text = TEMPLATE.read_text("utf-8")
    for name, part in parts.items():
        text = text.replace(f"@{name}@", part.rstrip("\n"))
    return text


def _values(listed: list[CommandWords]) -> Iterator[str]:
    """Give a case for each option that takes something; one that differs by command stands with its command."""
    same: dict[str, list[str]] = {}
    for command in listed:
        for word in command.options:
            if word.values:
                each = "|".join(f"{command.name},{name}" for name in word.names)
                same.setdefault(_offered(word, '"$value"'), []).append(each)
    for body, names in same.items():
        yield f"\t{'|'.join(names)})\n{body}\t\t;;\n"


def _options(command: CommandWords) -> str:
    if not command.options:
        return ""
    listed = " ".join(
        f"{name}=" if word.values and len(word.values) == 1 else name
        for word in command.options
        for name in word.names
        if name.startswith("--")
    )
    return f'\t{command.name},-*)\n\t\t__gitcomp "{listed}"\n\t\t;;\n'


def _places(command: CommandWords) -> str | None:
    """Give what is offered for words without a name: bash completes files by itself where nothing is."""
    if not command.places:
        return None
    word = command.places[0]
    merged = [offer for place in command.places for offer in (*place.offers, *(f"={name}" for name in place.choices))]
    whole = Word((), (), (), tuple(dict.fromkeys(merged)), word.many, word.must, "")
    body = _offered(whole, '"$cur"')
    return None if body.lstrip().startswith(":") else f"\t{command.name},*)\n{body}\t\t;;\n"


def _offered(word: Word, cur: str) -> str:
    """Write what completes one word."""
    fixed = [offer[1:] for offer in word.offers if offer.startswith("=")] + list(word.choices)
    fixed += FIGURES if "figures" in word.offers else []
    ids = [offer for offer in word.offers if offer in _IDS]
    if "files" in word.offers:
        ids += ["recipes", "ingredients"]
    revisions = "revisions" in word.offers
    if not word.is_option and (ids or fixed) and not revisions:
        return " ".join((f'\t\t__git_formula_complete_id "{" ".join(fixed)}"', *dict.fromkeys(ids))) + "\n"
    if not word.is_option and revisions:
        return "\t\tif ! __git_has_doubledash; then\n\t\t\t__git_complete_revlist\n\t\tfi\n"
    if ids:
        return f'\t\t__gitcomp_nl "$(__git_formula_ids {ids[0]} {cur})" "" {cur}\n'
    if revisions:
        return f"\t\t__git_complete_refs --cur={cur}\n"
    if fixed:
        return f'\t\t__gitcomp "{" ".join(fixed)}" "" {cur}\n'
    return "\t\t: # typed, or the name of a file\n"

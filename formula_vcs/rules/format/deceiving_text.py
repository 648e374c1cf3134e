"""Texts that pass for something else: a verdict of ours, letters of another script."""

from __future__ import annotations

import unicodedata
from collections.abc import Iterator
from functools import lru_cache
from typing import Final

from formula_vcs.model.facts import Path
from formula_vcs.model.finding import Finding
from formula_vcs.model.ingredient import Ingredient
from formula_vcs.rules.rule import Case, Rule
from formula_vcs.words.deceptive import look_alike, unseen
from formula_vcs.words.imitation import imitation, quotation
from formula_vcs.words.late_pattern import late_pattern

# --- Titles and notes that read like a verdict of ours: whoever reads a report must not take them for one


_SHOWN: Final = 60


class ImitatedVerdict(Rule):
    """A title or a note does not read like a verdict.

    Why: a title stands at the top of a review, where the verdict is looked for.  "Nothing blocks. Checked by the safety
    assessor: merge it." as a title is read as one.  Ticks, crosses and lights before a title do the same.  Looked at is
    what a name reads as, however it is written: bold letters, small capitals and hidden characters do not help.  In
    notes and reasons only the words of our own verdicts count; people write "checked by" there and mean it.

    Not so: `title = "Nothing blocks. Checked by the safety assessor"`.
    So: `title = "Rosehip hand cream"`.
    """

    id = "imitated-verdict"
    severity = "warn"
    source = "our choice, after what reviews of changes look like"
    judges = "both"

    def check_ingredient(self, ingredient: Ingredient) -> Iterator[Finding]:
        """Look at the title, the supplier and what is noted."""
        for path, value in ingredient.facts.items():
            words = _words(path, value)
            if words:
                yield self.say_of(ingredient, words, path)

    def check(self, case: Case) -> Iterator[Finding]:
        """Look at the titles, notes and reasons of the recipe."""
        for path, value in case.recipe.facts.items():
            words = _words(path, value)
            if words:
                yield self.say(case, words, path)


_TITLES: Final = ("title", "supplier")
_NOTES: Final = ("note", "why", "because", "source")


def _words(path: Path, value: object) -> str:
    if not isinstance(value, str) or path[-1] not in (*_TITLES, *_NOTES):
        return ""
    found = imitation(value, title=path[-1] in _TITLES)
    if not found:
        return ""
    shown = value if len(value) <= _SHOWN else f"{value[:_SHOWN]}..."
    return f"'{path[-1]}' reads like a verdict, with '{found}': {quotation(shown)}"


# --- Names that read as Latin and are not: a letter of another script passes every limit and every list unseen


_LATIN: Final = "LATIN"
_MICRO: Final = "\u03bc"  # of "\u03bcm", a unit and no Greek word
_WORDS: Final = late_pattern(r"[^\W_]+")
_MOST_SHOWN: Final = 40
_STACKED: Final = 3  # marks on one letter; no language has so many
_ACCENTED: Final = 0x180  # below, letters with accents and of Latin alphabets, which are themselves
# In place of which a name is written: the substances of an ingredient, by their INCI names.
_NAMES: Final = ("substances", "allergens")
_STATED: Final = ("title", "supplier", "functions")


class MixedScripts(Rule):
    """A name is written in one script, without letters that only look Latin and without hidden characters.

    Why: "Gly\u0441erin" with a Cyrillic letter looks like glycerin and is none to a search.  Somebody may mean it to,
    or a keyboard did it.  A word with Latin letters holds no Cyrillic, Greek or other ones, no small capitals or others
    that only look like a letter, and none in a form of its own (full width, mathematical).  The INCI name of a
    substance holds no word of another script (a Greek letter may stand alone, "\u03b1-Pinene").  Nothing is hidden in a
    name that is drawn as nothing or as a blank, and no letter carries a pile of marks.  Titles, suppliers, functions,
    phases, steps and vessels are looked at too.  The law finds the substance all the same: it is looked up as it reads.

    So:
        "Glycerin" = 100
    """

    id = "mixed-scripts"
    severity = "warn"
    source = "Unicode Technical Standard #39, 4 (confusables), 5.1 (mixed scripts) and 3.1 (ignorable characters)"
    judges = "both"

    def check_ingredient(self, ingredient: Ingredient) -> Iterator[Finding]:
        """Look at the title, supplier and functions, and at the names of the composition."""
        for path, value in ingredient.facts.items():
            named = len(path) == 2 and path[0] in _NAMES
            words = next(filter(None, (doubt(name, inci=named) for name in _stated(path, value, named=named))), "")
            if words:
                yield self.say_of(ingredient, words, path)

    def check(self, case: Case) -> Iterator[Finding]:
        """Look at the title, and at names that only this file gives: of phases, steps and vessels."""
        seen: set[str] = set()
        for path, value in case.recipe.facts.items():
            name = _name(path, value)
            if plain(name) or name in seen:
                continue
            seen.add(name)
            words = doubt(name, inci=False)
            if words:
                yield self.say(case, words, path)


def plain(name: str) -> bool:
    """Say whether a name holds nothing that could deceive: printable ASCII."""
    return name.isascii() and name.isprintable()


def _stated(path: Path, value: object, *, named: bool) -> Iterator[str]:
    if named:
        yield path[1]
    elif len(path) == 1 and path[0] in _STATED:
        yield from (text for text in (value if isinstance(value, (tuple, list)) else (value,)) if isinstance(text, str))


def _name(path: Path, value: object) -> str:
    """The name that a fact of a recipe states, "" where it states none."""
    if path[0] == "phase" and len(path) > 1 and not plain(path[1]):
        return path[1]
    stated = path[-1] == "title" or (path[0] == "step" and path[-1] == "into")
    return value if stated and isinstance(value, str) else ""


def doubt(name: str, *, inci: bool) -> str:
    r"""Say what in a name is not what it looks like, "" where nothing is.

    >>> doubt("Formaldehyde\u200b", inci=True).encode("ascii", "replace")
    b"'Formaldehyde?' has a character that is not seen: (U+200B) is zero width space"
    """
    if plain(name):
        return ""
    shown = name if len(name) <= _MOST_SHOWN else f"{name[:_SHOWN]}..."
    for character in name:
        if unseen(character):
            return f"'{shown}' has a character that is not seen: {_called(character)}"
        if inci and character != " " and character.isspace():
            return f"'{shown}' has another blank than a space: {_called(character)}"
    piled = _piled(name, 1 if inci else _STACKED)
    if piled:
        return f"'{shown}' has marks on a letter: {_called(piled)}"
    for word in _WORDS.findall(name):
        strange = _strange(word, inci)
        if strange:
            return f"'{shown}' {strange}"
    return ""


def _piled(name: str, most: int) -> str:
    """The first mark of a pile of so many or more that no letter takes up, "" where there is none."""
    run = 0
    for character in unicodedata.normalize("NFC", name):
        run = run + 1 if unicodedata.category(character) in ("Mn", "Me") else 0
        if run >= most:
            return character
    return ""


def _strange(word: str, inci: bool) -> str:
    if word.isascii():
        return ""
    scripts = {character: script(character) for character in word}
    others = [character for character, found in scripts.items() if found and found != _LATIN and character != _MICRO]
    latin = _LATIN in scripts.values()
    if others and latin:
        return f"mixes scripts: {_called(others[0])}"
    if inci and others and len(word) > 1:
        return f"is no INCI name, which has Latin letters: {_called(others[0])}"
    forms = [character for character in word if _is_form(character, inci)]
    if forms:
        return f"has a letter in a form of its own: {_called(forms[0])}"
    alike = [c for c in word if (latin or inci) and ord(c) >= _ACCENTED and len(word) > 1 and look_alike(c)]
    return f"has a letter that reads as '{look_alike(alike[0])}': {_called(alike[0])}" if alike else ""


def _is_form(character: str, inci: bool) -> bool:
    """Say whether a character is a Latin letter (in an INCI name: or a digit) in another form, such as full width."""
    normal = unicodedata.normalize("NFKC", character)
    meant = inci or unicodedata.category(character) in ("Lu", "Ll")
    return meant and normal != character and normal.isascii() and normal.isalnum()


@lru_cache(maxsize=1024)
def script(character: str) -> str:
    """The script of a letter as its name begins ("LATIN", "CYRILLIC"), "" for what belongs to all of them."""
    if not unicodedata.category(character).startswith("L"):
        return ""
    # "FULLWIDTH LATIN CAPITAL LETTER A" and "MODIFIER LETTER SMALL H" are forms of what follows
    words = unicodedata.name(character, "").split()
    return next((word for word in words if word not in _FORMS), "") if "LETTER" in words else ""


_FORMS: Final = frozenset({"FULLWIDTH", "HALFWIDTH", "MODIFIER", "LETTER", "SMALL", "CAPITAL"})


def _called(character: str) -> str:
    """Name a character: by itself where it is seen, by its number and by what Unicode calls it."""
    shown = character.isprintable() and not unseen(character) and not unicodedata.category(character).startswith("M")
    seen = f"'{character}' " if shown else ""
    words = unicodedata.name(character, "").partition(" LETTER ")
    if not words[0]:
        return f"{seen}(U+{ord(character):04X}) is a character without a name"
    kind = words[0].removesuffix(" SMALL").removesuffix(" CAPITAL")
    if words[1] and kind.isalpha():
        return f"{seen}(U+{ord(character):04X}) is the {kind.title()} letter {words[2].lower()}"
    return f"{seen}(U+{ord(character):04X}) is {unicodedata.name(character, 'nothing').lower()}"

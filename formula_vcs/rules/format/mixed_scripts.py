"""Names that read as Latin and are not: a letter of another script passes every limit and every list unseen."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterator
from functools import lru_cache
from typing import Final

from formula_vcs.model.facts import Path
from formula_vcs.model.finding import Finding
from formula_vcs.model.ingredient import Ingredient
from formula_vcs.rules.rule import Case, Rule

_LATIN: Final = "LATIN"
_MICRO: Final = "\u03bc"  # of "\u03bcm", a unit and no Greek word
_WORDS: Final = re.compile(r"[^\W_]+")
_SHOWN: Final = 40
# In place of which a name is written: the substances of an ingredient, by their INCI names.
_NAMES: Final = ("substances", "allergens")


class MixedScripts(Rule):
    """A name is written in one script, without letters that only look Latin and without invisible characters.

    Why: "Gly\u0441erin" with a Cyrillic letter looks like glycerin and is none to a search, a limit or a ban.
    Somebody may mean it to, or a keyboard did it.  A word with Latin letters holds no Cyrillic, Greek or other ones;
    the INCI name of a substance holds no word of another script (a Greek letter may stand alone, "\u03b1-Pinene"), and
    no letters in forms of their own, such as full width ones.  Titles, phases and vessels are looked at too.

    So:
        "Glycerin" = 100
    """

    id = "mixed-scripts"
    severity = "warn"
    source = "Unicode Technical Standard #39, 5.1 (mixed-script detection) and 3.1 (ignorable characters)"
    judges = "both"

    def check_ingredient(self, ingredient: Ingredient) -> Iterator[Finding]:
        """Look at the title and at the names of the composition."""
        for path, value in ingredient.facts.items():
            named = len(path) == 2 and path[0] in _NAMES
            name = path[1] if named else value if path == ("title",) and isinstance(value, str) else ""
            if not name.isascii():
                words = doubt(name, inci=named)
                if words:
                    yield self.say_of(ingredient, words, path)

    def check(self, case: Case) -> Iterator[Finding]:
        """Look at the title, and at names that only this file gives: of phases and vessels."""
        seen: set[str] = set()
        for path, value in case.recipe.facts.items():
            name = _name(path, value)
            if name.isascii() or name in seen:
                continue
            seen.add(name)
            words = doubt(name, inci=False)
            if words:
                yield self.say(case, words, path)


def _name(path: Path, value: object) -> str:
    """Give the name that a fact of a recipe states, "" where it states none."""
    if path[0] == "phase" and len(path) > 1:
        return path[1]
    stated = path == ("title",) or (path[0] == "step" and path[-1] == "into")
    return value if stated and isinstance(value, str) else ""


def doubt(name: str, *, inci: bool) -> str:
    r"""Say what in a name is not what it looks like, "" where nothing is.

    >>> doubt("Formaldehyde\u200b", inci=True).encode("ascii", "replace")
    b"'Formaldehyde?' has a character that is not seen: (U+200B) is zero width space"
    """
    shown = name if len(name) <= _SHOWN else f"{name[:_SHOWN]}..."
    for character in name:
        if unicodedata.category(character) == "Cf":
            return f"'{shown}' has a character that is not seen: {_called(character)}"
    for word in _WORDS.findall(name):
        strange = _strange(word, inci)
        if strange:
            return f"'{shown}' {strange}"
    return ""


def _strange(word: str, inci: bool) -> str:
    if word.isascii():
        return ""
    scripts = {character: script(character) for character in word}
    others = [character for character, found in scripts.items() if found and found != _LATIN and character != _MICRO]
    if others and _LATIN in scripts.values():
        return f"mixes scripts: {_called(others[0])}"
    if inci and others and len(word) > 1:
        return f"is no INCI name, which has Latin letters: {_called(others[0])}"
    if inci:
        forms = [character for character in word if unicodedata.normalize("NFKC", character) != character]
        if forms and unicodedata.normalize("NFKC", forms[0]).isascii():
            return f"has a letter in a form of its own: {_called(forms[0])}"
    return ""


@lru_cache(maxsize=1024)
def script(character: str) -> str:
    """Give the script of a letter as its name begins ("LATIN", "CYRILLIC"), "" for what belongs to all of them."""
    if not unicodedata.category(character).startswith("L"):
        return ""
    # "FULLWIDTH LATIN CAPITAL LETTER A" and "MODIFIER LETTER SMALL H" are forms of what follows
    words = unicodedata.name(character, "").split()
    return next((word for word in words if word not in _FORMS), "") if "LETTER" in words else ""


_FORMS: Final = frozenset({"FULLWIDTH", "HALFWIDTH", "MODIFIER", "LETTER", "SMALL", "CAPITAL"})


def _called(character: str) -> str:
    """Name a character: by itself where it is seen, by its number and by what Unicode calls it."""
    seen = f"'{character}' " if character.isprintable() else ""
    words = unicodedata.name(character, "").partition(" LETTER ")
    kind = words[0].removesuffix(" SMALL").removesuffix(" CAPITAL")
    if words[1] and kind.isalpha():
        return f"{seen}(U+{ord(character):04X}) is the {kind.title()} letter {words[2].lower()}"
    return f"{seen}(U+{ord(character):04X}) is {unicodedata.name(character, 'nothing').lower()}"

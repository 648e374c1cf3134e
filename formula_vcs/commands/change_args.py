"""Which changes of a review a person means: the words by which a change can be named, and what to say where none fits.

A change is named by its id (``amount:phase/A/charge/glycerin``), by its place, or by the end of its place as far as
that fits one change only: ``glycerin``, ``A/glycerin``, ``hydrate-gum/shear``, ``spec/pH``.  The kind goes before it
where two changes are made at one place (``moved:glycerin``), the recipe before all (``hand-cream:glycerin``).  A
recipe's id alone names all its changes.
"""

from __future__ import annotations

from collections.abc import Hashable, Iterable, Sequence
from difflib import get_close_matches
from typing import Final

from formula_vcs.errors import UserError
from formula_vcs.review.change_names import ChangeNames, Named, short
from formula_vcs.review.subset import Pick, TakenPart

_MOST: Final = 8  # names in a message
_LOOKED_AT: Final = 2000
_LONGEST: Final = 200


def parted(found: Sequence[Pick], only: Sequence[str], without: Sequence[str]) -> TakenPart:
    """Part the changes of a review in those that are taken and those that are left."""
    if not found:
        raise UserError("nothing differs in meaning, so there is no change to take or to leave")
    chosen: set[Hashable] = set()
    for word in only or without:
        chosen |= {pick.keys for pick in named(found, word)}
    taken = [pick for pick in found if (pick.keys in chosen) == bool(only)]
    return TakenPart(tuple(taken), tuple(pick for pick in found if (pick.keys in chosen) != bool(only)))


def named(found: Sequence[Pick], word: str) -> list[Pick]:
    """Give the change that a word names, under every recipe that it stands under.  Raises UserError."""
    of_recipe = [pick for pick in found if pick.recipe and pick.recipe == word]
    if of_recipe:
        return of_recipe
    hits = _hits(found, word)
    if not hits:
        raise UserError(f"no change here is called '{word[:_LONGEST]}'{_near(found, word)}")
    if len({pick.keys for pick in hits}) > 1:
        names = handles(one_each(hits), found)
        raise UserError(f"'{word}' names {len(names)} changes: {_listed(names)}")
    return [pick for pick in found if pick.keys == hits[0].keys]


def _hits(found: Sequence[Pick], word: str) -> list[Pick]:
    """Give the changes that a word fits best: the whole name before the end of it, the end before its midst."""
    for recipe, kind, name in _readings(found, word):
        chosen = [
            pick
            for pick in found
            if (recipe is None or pick.recipe == recipe) and (kind is None or pick.change.kind == kind)
        ]
        for fits in (_whole, _end, _end_shortly, _inside):
            hits = [pick for pick in chosen if fits(pick.change.where, name)]
            if hits:
                return hits
        hits = [pick for pick in chosen if pick.change.kind == "grade-swap" and pick.change.new == name]
        if hits:  # both names of a swap are shown
            return hits
    return []


def _readings(found: Sequence[Pick], word: str) -> Iterable[tuple[str | None, str | None, str]]:
    """Take a word apart in every way that makes sense here: a name alone, with its kind, its recipe, or both."""
    kinds = {pick.change.kind for pick in found}
    recipes = {pick.recipe for pick in found if pick.recipe}
    first, colon, rest = word.partition(":")
    second, more, last = rest.partition(":")
    yield None, None, word
    if colon and first in kinds:
        yield None, first, rest
    if colon and first in recipes:
        yield first, None, rest
        if more and second in kinds:
            yield first, second, last


def _whole(where: str, name: str) -> bool:
    return where == name


def _end(where: str, name: str) -> bool:
    return where.endswith(f"/{name}")


def _end_shortly(where: str, name: str) -> bool:
    return f"/{short(where)}".casefold().endswith(f"/{name}".casefold())


def _inside(where: str, name: str) -> bool:
    return f"/{name}/".casefold() in f"/{where}/".casefold()


def one_each(found: Iterable[Pick]) -> list[Pick]:
    """Give each change once, however many recipes it stands under."""
    return list({pick.keys: pick for pick in reversed(list(found))}.values())[::-1]


def handles(picked: Iterable[Pick], found: Sequence[Pick]) -> list[str]:
    """Give the shortest names by which changes can be meant."""
    names = ChangeNames(Named(pick.recipe, pick.change, pick.keys) for pick in found)
    return [names.of(Named(pick.recipe, pick.change, pick.keys)) for pick in picked]


def _near(found: Sequence[Pick], word: str) -> str:
    """Name the changes that are called nearly so, or the first ones there are."""
    some = one_each(found[:_LOOKED_AT])
    spelled: dict[str, Pick] = {}
    for pick in some:
        parts = short(pick.change.where).split("/")
        for name in (pick.change.id, pick.change.where, *("/".join(parts[start:]) for start in range(len(parts)))):
            spelled.setdefault(name.casefold(), pick)
    typed = word[:_LONGEST].casefold()
    holding = [name for name in spelled if len(typed) > 2 and typed in name]
    close = holding or get_close_matches(typed, spelled, n=3, cutoff=0.6)
    near = one_each(spelled[name] for name in close)[:3]
    if near:
        return f"; did you mean {' or '.join(map(repr, handles(near, found)))}?"
    return f"; there is {_listed(handles(some[:_MOST], found), len(some))}"


def _listed(names: Sequence[str], count: int | None = None) -> str:
    shown = [f"'{name}'" for name in names[:_MOST]]
    more = (len(names) if count is None else count) - len(shown)
    return ", ".join(shown) + (f" and {more} more" if more > 0 else "")


def said(part: TakenPart) -> str:
    """Say what is reviewed: ``if only 2 of 5 changes are taken: glycerin, spec/pH``."""
    everything = (*part.taken, *part.left)
    taken, left = one_each(part.taken), one_each(part.left)
    count = len(one_each(everything))
    if len(left) < len(taken):
        names = _listed(handles(left[:_MOST], everything), len(left))
        return f"if {len(taken)} of {count} changes are taken, without {names}"
    names = _listed(handles(taken[:_MOST], everything), len(taken))
    return f"if only {len(taken)} of {count} changes {'is' if len(taken) == 1 else 'are'} taken: {names}"

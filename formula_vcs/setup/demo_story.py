"""The story of the demo: what each commit in ``demo_history.toml`` left behind, worked out from the shipped files."""

from __future__ import annotations

import tomllib
from collections.abc import Iterable, Iterator, Mapping, Sequence
from datetime import date, datetime
from decimal import Decimal
from fnmatch import fnmatchcase
from pathlib import Path
from typing import Any, Final

from formula_vcs.model.content_hash import content_hash
from formula_vcs.model.values import dataclass
from formula_vcs.setup.history_writer import Ids, Person, StoryCommit
from formula_vcs.toml.edit import add_pair, remove, set_value
from formula_vcs.toml.positions import TextPath
from formula_vcs.toml.syntax import parse
from formula_vcs.words.late_pattern import late_pattern
from formula_vcs.workspace.snapshot import Files, Snapshot

MAIN: Final = "main"
_STORY: Final = Path(__file__).with_name("demo_history.toml")
# Batches and evidence name the version that they are about, by ids that only the demo's own history has: they stand
# here with `@commit:TAG@` and `@hash:TAG:RECIPE@` in place of those, and TAG is the `tag` of a commit of the story.
_RECORDS: Final = Path(__file__).with_name("demo_records")
_PIN: Final = late_pattern(rb"@(commit|hash):([a-z0-9-]+)(?::([a-z0-9-]+))?@")

Edit = Mapping[str, Any]
State = dict[str, str]


@dataclass(frozen=True, slots=True)
class Scene:
    """One commit of the story as it is told."""

    branch: str
    who: Person
    when: datetime
    message: str
    tag: str | None
    merges: str | None
    adds: tuple[str, ...]
    moves: tuple[Mapping[str, str], ...]
    prices: tuple[date, ...]
    edits: tuple[Edit, ...]


def commits(shipped: Mapping[str, str]) -> list[StoryCommit]:
    """Give the story as commits; main ends with the files that are shipped.

    :raises EditRefused: the shipped files and the story do not fit together.
    """
    scenes = _told()
    parents = _parents(scenes)
    states = _states(scenes, parents, {**shipped, **records()})
    told: list[StoryCommit] = []
    pins = _Pins()
    for number, scene in enumerate(scenes):
        files = {path: pins.filled(text.encode()) for path, text in states[number].items()}
        told.append(StoryCommit(scene.branch, scene.who, scene.when, scene.message, files, parents[number]))
        pins.tell(scene.tag, told[-1])
    return told


def records() -> State:
    """Give the batches and evidence of the demo, by their path in the workspace, with their pins not filled in."""
    return {path.relative_to(_RECORDS).as_posix(): path.read_text("utf-8") for path in sorted(_RECORDS.rglob("*.toml"))}


class _Pins:
    """Fills in what records name: the ids and content hashes of versions that came before."""

    def __init__(self) -> None:
        self._ids = Ids()
        self._commits: dict[str, tuple[str, StoryCommit]] = {}
        self._hashes: dict[tuple[str, str], str] = {}

    def tell(self, tag: str | None, commit: StoryCommit) -> None:
        """Take the next commit of the story."""
        oid = self._ids.add(commit)
        if tag is not None:
            self._commits[tag] = oid, commit

    def filled(self, text: bytes) -> bytes:
        """Fill in the pins of a file."""
        return _PIN.sub(lambda found: self._pin(*(part.decode() for part in found.groups(b""))).encode(), text)

    def _pin(self, kind: str, tag: str, recipe: str) -> str:
        oid, commit = self._commits[tag]
        if kind == "commit":
            return oid
        if (tag, recipe) not in self._hashes:
            with Snapshot(Files(commit.files)) as snapshot:
                found = snapshot.recipe(recipe)
                if found is None:
                    raise ValueError(f"the demo's story has no recipe '{recipe}' at '{tag}'")
                self._hashes[tag, recipe] = content_hash(found, snapshot.formula(found).premixes)
        return self._hashes[tag, recipe]


def _told() -> list[Scene]:
    data = tomllib.loads(_STORY.read_text("utf-8"), parse_float=Decimal)
    people = {name: Person(**facts) for name, facts in data["people"].items()}
    return [_scene(people, facts) for facts in data["commit"]]


def _scene(people: Mapping[str, Person], facts: Mapping[str, Any]) -> Scene:
    parts = (facts["subject"], facts.get("body"), f"Reason: {facts['reason']}")
    return Scene(
        branch=facts.get("branch", MAIN),
        who=people[facts["who"]],
        when=facts["when"],
        message="\n\n".join(part for part in parts if part) + "\n",
        tag=facts.get("tag"),
        merges=facts.get("merges"),
        adds=tuple(facts.get("adds", ())),
        moves=tuple(facts.get("moves", ())),
        prices=tuple(facts.get("prices", ())),
        edits=tuple(facts.get("edits", ())),
    )


# Which comes from which


def _parents(scenes: Sequence[Scene]) -> list[tuple[int, ...]]:
    """Give the parents of each commit: the one before on its branch, or where it leaves main; and what it merges."""
    tips: dict[str, int] = {}
    found: list[tuple[int, ...]] = []
    for number, scene in enumerate(scenes):
        before = tips.get(scene.branch, tips.get(MAIN))
        merged = () if scene.merges is None else (tips[scene.merges],)
        found.append((() if before is None else (before,)) + merged)
        tips[scene.branch] = number
    return found


def _within(number: int, parents: Sequence[tuple[int, ...]]) -> set[int]:
    """Give a commit and all before it."""
    found: set[int] = set()
    left = [number]
    while left:
        here = left.pop()
        if here not in found:
            found.add(here)
            left += parents[here]
    return found


def _states(scenes: Sequence[Scene], parents: Sequence[tuple[int, ...]], shipped: State) -> dict[int, State]:
    """Work out the files of each commit: backwards as far as main goes, forwards for what is proposed."""
    tip = max(number for number, scene in enumerate(scenes) if scene.branch == MAIN)
    told = sorted(_within(tip, parents))
    found: dict[int, State] = {}
    after = shipped
    for position in range(len(told) - 1, -1, -1):
        number = told[position]
        found[number] = _without(after, _others(scenes, told[:position], _within(number, parents)))
        after = _undone(after, scenes[number])
    for number, scene in enumerate(scenes):
        if number not in found:
            found[number] = _edited(found[parents[number][0]], scene.edits)
    return found


def _others(scenes: Sequence[Scene], earlier: Sequence[int], known: set[int]) -> Iterator[Scene]:
    """Give what happened before a commit on a branch that it does not know, last first."""
    return (scenes[number] for number in reversed(earlier) if number not in known)


def _without(state: State, scenes: Iterable[Scene]) -> State:
    for scene in scenes:
        state = _undone(state, scene)
    return state


# One commit


def _undone(state: State, scene: Scene) -> State:
    """Take one commit back."""
    before = _unpriced(_edited(state, scene.edits), scene.prices)
    for move in scene.moves:
        before[move["was"]] = before.pop(move["now"])
    return {path: text for path, text in before.items() if path not in scene.adds}


def _edited(state: State, edits: Iterable[Edit]) -> State:
    edited = dict(state)
    for edit in edits:
        for path in _files(edited, edit):
            edited[path] = _applied(edited[path], edit)
    return edited


def _files(state: State, edit: Edit) -> list[str]:
    if "file" in edit:
        return [edit["file"]]
    return [path for path, text in state.items() if fnmatchcase(path, edit["files"]) and edit["text"] in text]


def _applied(text: str, edit: Edit) -> str:
    value = edit.get("was", edit.get("now"))
    if "text" in edit:
        return _replaced(text, edit["text"], value)
    at, stands = _place(text, edit["at"])
    if value is None:
        return remove(text, at)
    return set_value(text, at, value) if stands else add_pair(text, at[:-1], str(at[-1]), value)


def _replaced(text: str, old: str, new: str) -> str:
    if text.count(old) != 1:
        raise ValueError(f"the demo's story does not fit the shipped files: {old!r} stands {text.count(old)} times")
    return text.replace(old, new)


def _unpriced(state: State, days: Sequence[date]) -> State:
    """Take away the prices that begin on some days."""
    return {path: _cheaper(text, days) if path.startswith("ingredients/") else text for path, text in state.items()}


def _cheaper(text: str, days: Sequence[date]) -> str:
    if not any(f"since = {day}" in text for day in days):
        return text
    prices = parse(text.encode()).data["price"]
    for number in range(len(prices) - 1, -1, -1):
        if prices[number].get("since") in days:
            text = remove(text, ("price", number))
    return text.rstrip("\n") + "\n"


def _place(text: str, at: str) -> tuple[TextPath, bool]:
    """Turn ``step/set-pH/accept`` into a path, and say whether something stands there; a step is named by its id."""
    here: Any = parse(text.encode()).data
    path: list[str | int] = []
    for part in at.split("/"):
        if isinstance(here, list):
            number = next(number for number, item in enumerate(here) if item.get("id") == part)
            path.append(number)
            here = here[number]
        else:
            path.append(part)
            here = here.get(part) if isinstance(here, dict) else None
    return tuple(path), here is not None

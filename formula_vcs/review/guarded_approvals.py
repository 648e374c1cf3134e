"""What loosens approving: who may sign, what needs it, and signed decisions that go."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Final

from formula_vcs.approvals.trust import TRUST_FILE, trust_changes, trust_of
from formula_vcs.model.approval import ApprovalRow, Needed, approval_rows, needed
from formula_vcs.model.facts import Facts
from formula_vcs.review.loosenings import Loosening
from formula_vcs.workspace.snapshot import WORKSPACE_FILE, Snapshot

_MOST_NAMED: Final = 6


def guarded_approvals(
    old: Snapshot, new: Snapshot, touched: frozenset[str], renames: Mapping[str, str]
) -> Iterator[Loosening]:
    """Give what loosens approving; ``renames`` are recipes that have another id, ``{new: old}``."""
    if any(path.startswith("approvals/") for path in touched):
        yield from _trust(old, new, touched)
        yield from _decisions(old, new, touched)
    yield from _needs(old, new, renames)


def of_gate(one: Loosening) -> bool:
    """Say whether something loosens the gate itself: it passes when the old trust has signed the new one."""
    return one.kind == "approval" and one.file in (TRUST_FILE, WORKSPACE_FILE)


def _trust(old: Snapshot, new: Snapshot, touched: frozenset[str]) -> Iterator[Loosening]:
    if TRUST_FILE not in touched or TRUST_FILE not in old.listing:
        return
    was = trust_of(old.read(TRUST_FILE).facts)
    if TRUST_FILE not in new.listing:
        yield Loosening("approval", "who may approve is taken away: the file is not there any more", TRUST_FILE)
        return
    read = new.read(TRUST_FILE)
    if not read.whole:
        yield Loosening("approval", "who may approve cannot be read any more", TRUST_FILE)
        return
    now = trust_of(read.facts)
    told = trust_changes(was, now) if now != was else []
    more = f"; and {len(told) - _MOST_NAMED} more" if len(told) > _MOST_NAMED else ""
    if told:
        yield Loosening("approval", f"who may approve: {'; '.join(told[:_MOST_NAMED])}{more}", TRUST_FILE)


def _decisions(old: Snapshot, new: Snapshot, touched: frozenset[str]) -> Iterator[Loosening]:
    """Name the signed decisions that are gone or edited; one that was only moved is neither."""
    here = {new.content_name(path) for path in new.ids("approvals").values()}
    for path in old.ids("approvals").values():
        if path == TRUST_FILE or path not in touched or old.content_name(path) in here:
            continue
        facts = old.read(path).facts
        recipe = facts.get(("recipe",))
        verb = "edited" if path in new.listing else "deleted"
        recipes = (recipe,) if isinstance(recipe, str) else ()
        yield Loosening("approval", f"a signed decision is {verb}: {decision_words(facts)}", path, recipes=recipes)


def decision_words(facts: Facts) -> str:
    """Say what a payload decides, as it states it itself; empty where it is none."""
    role, recipe, decision = (facts.get((name,)) for name in ("role", "recipe", "decision"))
    if not isinstance(role, str) or not isinstance(decision, str):
        return ""
    return f"'{decision}' by {role} on '{recipe}'" if isinstance(recipe, str) else f"'{decision}' by {role}"


def _needs(old: Snapshot, new: Snapshot, renames: Mapping[str, str]) -> Iterator[Loosening]:
    """Name the roles that need not approve a recipe any more, and recipes whose batches are only marked now."""
    before = approval_rows(old.workspace.facts)
    if not before:
        return
    after = approval_rows(new.workspace.facts)
    said: dict[tuple[str, str], list[str]] = {}
    called = {was: name for name, was in renames.items()}
    for was in old.ids("recipe"):
        name = called.get(was, was)
        one, other = old.recipe(was), new.recipe(name)
        if one is None or other is None:
            continue
        words = _less(needed(before, one), needed(after, other))
        if words:
            said.setdefault((words, _whose(before, after, other.file)), []).append(name)
    for (words, file), recipes in said.items():
        yield Loosening("approval", words, file, recipes=tuple(recipes))


def _less(was: Needed, now: Needed) -> str:
    lost = [role for role in was.roles if role not in now.roles]
    if lost:
        return f"made without the approval of {', '.join(lost)} from now on"
    return "made without approvals from now on, and only marked" if was.refuse and not now.refuse and now.roles else ""


def _whose(before: tuple[ApprovalRow, ...], after: tuple[ApprovalRow, ...], recipe: str) -> str:
    """Name the file that brings it: the rows, or the recipe that is another product now."""
    return recipe if before == after else WORKSPACE_FILE

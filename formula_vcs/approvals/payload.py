"""What is signed: the bytes of a payload, written one way and read strictly."""

from __future__ import annotations

from typing import Any, Final

from formula_vcs.model.approval import FORMAT, Signed, identity
from formula_vcs.model.facts import Unread
from formula_vcs.toml import syntax
from formula_vcs.toml.record_files import read_approvals

MOST_PAYLOAD: Final = 1 << 16
_HEAD: Final = "# Signed by the file beside it: one changed byte, and it does not hold. `git formula help approvals`\n"


def payload(said: dict[str, Any]) -> bytes:
    """Give the bytes that are signed: what is empty is left out, and the hashes of what it rests on stand last."""
    from formula_vcs.toml.edit import spelled

    table = {key: value for key, value in {"approval": FORMAT, **said}.items() if value not in ("", None, {})}
    rests = table.pop("rests_on", {})
    lines = [f"{key} = {spelled(value)}\n" for key, value in table.items()]
    lines += ["\n[rests_on]\n", *(f"{key} = {spelled(value)}\n" for key, value in rests.items())] if rests else []
    return (_HEAD + "".join(lines)).encode("utf-8")


def signed_in(data: bytes) -> Signed | str:
    """Read a payload; why it is none where it is none."""
    if len(data) > MOST_PAYLOAD:
        return "is larger than any approval"
    parsed = syntax.parse(data)
    if parsed.errors:
        return "is no TOML that can be read"
    facts = read_approvals(parsed.data)
    bad = next((value for value in facts.values() if isinstance(value, Unread)), None)
    if bad is not None:
        return f"cannot be read: {bad.message}"
    if facts.get(("approval",)) != FORMAT:
        return f"has a format that this version does not know: {facts.get(('approval',))}"

    def at(name: str) -> str:
        value = facts.get((name,))
        return "" if value is None else str(value)

    return Signed(
        identity(data), at("repository"), at("workspace"), at("recipe"), at("role"), at("decision"), at("content"),
        {path[1]: value for path, value in facts.items() if path[0] == "rests_on" and len(path) == 2},
        at("condition"), at("why"), at("after"), at("was"), at("signed"),
    )  # fmt: skip

"""Make somebody else's text harmless for where it lands."""

from __future__ import annotations

import os
import re
from typing import TextIO

from formula_vcs.words.deceptive import unseen

# What CI reads as a command of its own, wherever it stands in a line: ##[error], ##vso[, ##teamcity[
_COMMAND = re.compile(r"##(?=\w*\[)")
# Always of markdown's own: spans, links, tables, HTML, mathematics; and what stands for itself otherwise: a colon in
# an address or an emoji's name, the dot of "www.", whatever makes a list, a heading or a host's command at the start
_MARKDOWN = re.compile(r"[\\`*_{}\[\]<>|~&$]|:(?=\S)|(?<=www)\.|^[-+=/]|^\d+[.)](?=\s|$)", re.IGNORECASE)
_HTML = {"<": "&lt;", ">": "&gt;", "&": "&amp;"}
# Hosts make mentions and references of the finished text, so an escape does not help: a character without width does.
# GitHub: @team #12 GH-12; GitLab also !12 %12 ~label $12 &12
_REFERENCE = re.compile(r'[@#]|!(?=\d)|[%~](?=[\w"])|(?:\$|&amp;)(?=\d)|\bGH(?=-\d)', re.IGNORECASE)
# also the names of emoji, addresses and mathematics, which are made of the finished HTML too
_IN_HTML = re.compile(r"[@#$`]|:(?=\S)|(?<=www)(?=\.)", re.IGNORECASE)
# What a spreadsheet takes for a formula (OWASP, "CSV Injection"), in full width too.
_FORMULA = ("=", "+", "-", "@", "\t", "\r", "\n", "\uff1d", "\uff0b", "\uff0d", "\uff20")
# A cell takes 32,767 characters (Microsoft, "Excel specifications and limits").
CELL = 32_500


def terminal(text: str) -> str:
    """Show control bytes and what is not seen or turns a line by its code; break up what CI takes for a command."""
    text = _visible_text(text)
    return _COMMAND.sub(r"#\\#", text) if "##" in text else text


def _visible(character: str) -> str:
    code = ord(character)
    if not unseen(character):
        return character
    return f"\\x{code:02x}" if code < 0x100 else f"\\u{code:04x}"


def no_command(line: str) -> str:
    """Give a line that CI does not take for a command: a runner reads ``::error`` also behind blanks."""
    bare = line.lstrip()
    return line[: len(line) - len(bare)] + "\\" + bare if bare.startswith("::") else line


def markdown(text: str) -> str:
    """Escape what markdown, or the HTML inside it, would take for its own; one line stays one line."""
    escaped = _MARKDOWN.sub(_escaped, _visible_text(text))
    return _REFERENCE.sub(lambda found: f"{found[0]}&#8203;", escaped)


def _visible_text(text: str) -> str:
    return text if text.isascii() and text.isprintable() else "".join(_visible(character) for character in text)


def _escaped(found: re.Match[str]) -> str:
    return _HTML.get(found[0], f"{found[0][:-1]}\\{found[0][-1]}")


def spreadsheet(text: str) -> str:
    """Make words harmless for a cell: what would be a formula gets an apostrophe in front, and none is too long."""
    visible = shortened(terminal(text), CELL)
    return f"'{visible}" if text.startswith(_FORMULA) or visible.startswith(_FORMULA) else visible


def summary(text: str) -> str:
    """Escape text for HTML inside markdown, as in ``<summary>``: markdown's own escapes would be seen there."""
    escaped = "".join(_HTML.get(character, character) for character in _visible_text(text))
    return _IN_HTML.sub(lambda found: f"{found[0]}&#8203;", escaped)


def shortened(text: str, most: int) -> str:
    """Give a text of at most so many characters, with a mark where it was cut."""
    return text if len(text) <= most else f"{text[: most - 4]} ..."


def coloured(out: TextIO) -> bool:
    """Say whether colour is wanted: a terminal, or git's pager in front of one, and no NO_COLOR."""
    return not os.environ.get("NO_COLOR") and on_a_terminal(out)


def on_a_terminal(out: TextIO) -> bool:
    """Say whether somebody reads it as it comes: on a terminal, or through git's pager in front of one."""
    return out.isatty() or os.environ.get("GIT_PAGER_IN_USE") == "true"

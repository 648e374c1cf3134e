"""The page that ``git formula --help`` opens: the chapter of the commands, with the parts that ``man`` looks for."""

from __future__ import annotations

import re
from typing import Final

from formula_vcs.reports.manual.man import body
from formula_vcs.setup.shipped import Chapter
from formula_vcs.words.late_pattern import late_pattern

_HEAD: Final = """\
.\\" SPDX-License-Identifier: Apache-2.0
.\\" Made by .ci/compile from formula_vcs/manual/commands.md, which is made from the parsers of the commands.
.TH GIT\\-FORMULA 1 "" "formula_vcs"
.SH NAME
git\\-formula \\- check, diff and review recipes of personal\\-care products in git
.SH SYNOPSIS
.B git formula
.I command
.RI [ options ]
.br
.B git formula
.I command
.B \\-h
.SH DESCRIPTION
"""
_COMMAND: Final = late_pattern(r"^## (`git formula [\w-]+`)$", re.MULTILINE)


def manual_page(commands: Chapter) -> str:
    """Give the page, in man(7)."""
    text = commands.text.partition("\n")[2]
    first = _COMMAND.search(text)
    if first is not None:
        each = _COMMAND.sub(r"### \1", text[first.start() :])
        text = f"{text[: first.start()]}## Commands\n\n{each}"
    return _HEAD + "\n".join(body(text)) + "\n"

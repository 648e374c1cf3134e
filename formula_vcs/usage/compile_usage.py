"""Write what is made from the parsers: the chapters of the commands and of the keys, the manual page, the
completions; and from the readers: the schemas.

``python -m formula_vcs.usage.compile_usage`` writes them; a test fails where one of them is stale.
"""

from __future__ import annotations

import json
import sys
from pathlib import Path

from formula_vcs.setup.schemas import FOLDER as FOLDER_OF_SCHEMAS
from formula_vcs.setup.schemas import IMPORT, IMPORT_SCHEMA, NAMES
from formula_vcs.setup.shipped import FOLDER, chapter_in
from formula_vcs.toml.file_schema import schema
from formula_vcs.usage import bash, chapter, keys_chapter, zsh
from formula_vcs.usage.command_words import commands
from formula_vcs.usage.manual_page import manual_page


def made() -> dict[Path, str]:
    """Give each file with what is to stand in it."""
    known = list(commands())
    text = chapter.chapter(known, chapter.CHAPTER.read_text("utf-8"))
    return {
        chapter.CHAPTER: text,
        keys_chapter.CHAPTER: keys_chapter.chapter(),
        **{FOLDER_OF_SCHEMAS / f"{name}.json": _schema(kind) for name, kind in NAMES.items()},
        FOLDER / "git-formula.1": manual_page(chapter_in("commands", text)),
        FOLDER / "completions" / "git-formula.bash": bash.completion(known),
        FOLDER / "completions" / "_git-formula": zsh.completion(known),
    }


def _schema(kind: str) -> str:
    found = IMPORT_SCHEMA if kind == IMPORT else schema(kind)
    return json.dumps(found, indent=1, ensure_ascii=False) + "\n"


def main() -> None:
    """Write the files."""
    for path, text in made().items():
        path.write_text(text, encoding="utf-8", newline="\n")
        sys.stdout.write(f"{path.name}: {text.count(chr(10))} lines\n")


if __name__ == "__main__":
    main()

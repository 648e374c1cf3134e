"""Write what is made from the parsers: the chapter of the commands, the manual page, the completions.

``python -m formula_vcs.usage.compile_usage`` writes them; a test fails where one of them is stale.
"""

from __future__ import annotations

import sys
from pathlib import Path

from formula_vcs.setup.chapters import FOLDER, chapter_in
from formula_vcs.usage import bash, chapter, zsh
from formula_vcs.usage.command_words import commands
from formula_vcs.usage.manual_page import manual_page


def made() -> dict[Path, str]:
    """Give each file with what is to stand in it."""
    known = list(commands())
    text = chapter.chapter(known, chapter.CHAPTER.read_text("utf-8"))
    return {
        chapter.CHAPTER: text,
        FOLDER / "git-formula.1": manual_page(chapter_in("commands", text)),
        FOLDER / "completions" / "git-formula.bash": bash.completion(known),
        FOLDER / "completions" / "_git-formula": zsh.completion(known),
    }


def main() -> None:
    """Write the files."""
    for path, text in made().items():
        path.write_text(text, encoding="utf-8", newline="\n")
        sys.stdout.write(f"{path.name}: {text.count(chr(10))} lines\n")


if __name__ == "__main__":
    main()

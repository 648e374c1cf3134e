"""How the words of a command are read.  A hook's are always the same, and it loads none of this."""

from __future__ import annotations

import argparse
from typing import Any, Final, NoReturn

from formula_vcs.errors import UserError

WIDTH: Final = 80
_MOST_CHOICES: Final = 32
# what an option does that is the same wherever it is
_SHARED: Final = {("--format",): "how it is shown", ("--fail-on",): "what ends with 1 (default: block)"}


class CommandParser(argparse.ArgumentParser):
    """Reads the words of a command: one line says what is wrong, and no line of its help is wider than a terminal."""

    def add_argument(self, *names: str, **options: Any) -> argparse.Action:  # noqa: ANN401 - as argparse has it
        """Declare an option; many choices are named below it, as in one word they would not fit into a line."""
        choices = ", ".join(map(str, options.get("choices") or ()))
        if names in _SHARED:
            options.setdefault("help", _SHARED[names])
        if len(choices) > _MOST_CHOICES and "metavar" not in options:
            words = options.get("help")
            options["metavar"] = names[-1].lstrip("-").upper()
            options["help"] = f"{words}; {choices}" if words else choices
        return super().add_argument(*names, **options)

    def error(self, message: str) -> NoReturn:
        """Refuse what was typed.

        :raises UserError: always.
        """
        wrong, more = message.removeprefix("unrecognized arguments: "), f"; '{self.prog} -h' says what there is"
        if wrong == message:
            raise UserError(f"{message}{more}")
        word = wrong.split()[0]
        if not word.startswith("-"):
            raise UserError(f"'{word}' is one word too many for '{self.prog}'{more}")
        from difflib import get_close_matches

        close = get_close_matches(word.partition("=")[0], self._option_string_actions, n=1)
        hint = f"; did you mean '{close[0]}'?" if close else more
        raise UserError(f"'{word}' is no option of '{self.prog}'{hint}")


def parser_for(name: str, summary: str) -> CommandParser:
    """Make the parser of a command, with no option yet; ``summary`` is its line in the overview."""
    return CommandParser(
        prog=f"git formula {name}",
        description=f"{summary[0].upper()}{summary[1:]}.",
        formatter_class=lambda prog: argparse.HelpFormatter(prog, width=WIDTH),
        allow_abbrev=False,
    )

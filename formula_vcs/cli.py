"""``git formula``: find the command, load it, and turn what goes wrong into one clear line and an exit status."""

from __future__ import annotations

import errno
import gc
import io
import os
import signal
import sys
from collections.abc import Sequence
from contextlib import AbstractContextManager, nullcontext
from importlib import import_module
from types import ModuleType
from typing import TYPE_CHECKING, Final

from formula_vcs import __version__
from formula_vcs.errors import BUG, INTERRUPTED, OK, WRONG, GitFailed, UserError

if TYPE_CHECKING:
    import argparse

ISSUES: Final = "DEVELOPERS.md says where to report it"
# what a full disk, a full quota or a limit on files raises where a report is written to one
_FULL: Final = (errno.ENOSPC, errno.EDQUOT, errno.EFBIG)
# what a limit, a permission, a damaged disk or a name that no file can have raises, wherever it is met
_SYSTEM: Final = (
    errno.EMFILE, errno.ENFILE, errno.ENOMEM, errno.EAGAIN, errno.EIO, errno.EROFS, errno.EACCES, errno.EPERM,
    errno.ENAMETOOLONG, errno.ELOOP, errno.ENXIO, errno.ESTALE,
)  # fmt: skip
_NAME: Final = 60
# name: (module in formula_vcs.commands, one line); a command's module is loaded only when it is called
COMMANDS: Final[dict[str, tuple[str, str]]] = {
    "init": ("init", "write a starter workspace, or arm this clone: attributes, diff and merge drivers, hooks"),
    "check": ("check", "check recipes and ingredients; explain a rule"),
    "show": ("show", "show one recipe: charges, figures, label, findings"),
    "diff": ("diff", "say what changed between two versions, in the words of the trade"),
    "review": ("review", "say what a change does, what it breaks and what has to follow"),
    "blame": ("blame", "say who last changed each line of a recipe, and why"),
    "log": ("log", "list the versions of a recipe, with figures over time"),
    "label": ("label", "print a recipe's ingredient list"),
    "uses": ("uses", "list where an ingredient goes, how much of it, through which premix"),
    "explain": ("explain_substance", "say all that the tables know of one substance"),
    "propose": ("propose", "say the smallest or cheapest change of a recipe that reaches targets"),
    "survey": ("survey", "look at all recipes in one table, and at what would become of them"),
    "batch": ("batch", "make a batch: pin a version, print its weigh sheet; record it; cost it"),
    "approve": ("approve", "approve a version of a recipe with your ssh key, or take that back"),
    "trace": ("trace", "say why two batches differ, or what is unusual in one"),
    "import": ("import_", "take formulas, materials, prices, allergens, weighings from spreadsheets"),
    "new": ("new", "begin a recipe, ingredient, premix, lot, equipment, evidence or house rule"),
    "list": ("list_", "list what is there, one line each, filtered by anything"),
    "export": ("export", "write recipes, materials, prices, weighings, overviews as spreadsheets"),
    "document": ("document", "write one version as a document: composition, specification, allergens, claims ..."),
    "schema": ("schema", "give the schema of a kind of file, or write all for editors"),
    "serve-editor": ("serve_editor", "answer an editor while somebody types (language server)"),
    "help": ("help_", "list the chapters of the manual, or print one"),
    "demo": ("demo", "build a throw-away repository with a history and review a change in it"),
}
CALLED_BY_GIT: Final[dict[str, tuple[str, str]]] = {
    "diff-driver": ("diff_driver", "called by git diff for one file"),
    "merge-driver": ("merge_driver", "called by git merge for one file"),
    "reason": ("reason", "called by the commit-msg hook: ask why a composition changed"),
}


# what the hook calls at each commit: no parser has to be loaded to read it
AS_A_HOOK: Final = ["check", "--staged", "--hook"]
# whose output is there to be read: it goes through git's pager where it goes to a terminal
_READ: Final = frozenset(
    (
        "check",
        "show",
        "diff",
        "review",
        "blame",
        "log",
        "label",
        "uses",
        "explain",
        "trace",
        "list",
        "help",
        "propose",
        "survey",
    )
)


def main_and_exit() -> None:
    """Run as a program."""
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, io.TextIOWrapper):
            stream.reconfigure(errors="backslashreplace")  # an arrow in an ASCII locale is no reason to fail
    quiet = signal.getsignal(signal.SIGINT) == signal.SIG_DFL  # see __main__
    if quiet:
        signal.signal(signal.SIGINT, signal.default_int_handler)
    try:
        status = main()
    finally:
        if quiet:
            signal.signal(signal.SIGINT, signal.SIG_DFL)
    if sys.argv[1:] == AS_A_HOOK:
        _leave_at_once(status)
    raise SystemExit(status)


def _leave_at_once(status: int) -> None:
    """End the process: all is written, and taking apart what was loaded takes as long as loading it did."""
    try:
        sys.stdout.flush()
        sys.stderr.flush()
    except OSError:
        return
    os._exit(status)


def main(argv: Sequence[str] | None = None) -> int:
    """Run a command; gives the exit status (0 fine, 1 blocked, 2 wrong use, 3 a bug of ours)."""
    arguments = list(sys.argv[1:] if argv is None else argv)
    try:
        return _run(arguments)
    except (UserError, GitFailed) as error:
        return _wrong(str(error))
    except BrokenPipeError:
        _close_output()  # the reader has seen enough
        return OK
    except KeyboardInterrupt:
        return INTERRUPTED
    except MemoryError:
        return _wrong("there is not enough memory for this")
    except OSError as error:
        return _by_system(error, arguments)
    except Exception as error:  # noqa: BLE001 - the one place where a bug becomes a report
        return INTERRUPTED if _interrupted(error) else _bug(error, arguments)


def _interrupted(error: BaseException) -> bool:
    """Say whether an error only wraps Control-C, as Python's does where a class is being made."""
    cause = error.__cause__ or error.__context__
    return isinstance(cause, KeyboardInterrupt) or (cause is not None and _interrupted(cause))


def _by_system(error: OSError, arguments: list[str]) -> int:
    """Say what the system refused: that is no bug of ours."""
    if error.errno == errno.ENOENT and error.filename is None:  # only a folder without a name has none
        return _wrong("the folder that you stand in is gone")
    if error.errno in _FULL:
        _close_output()
        return _wrong(f"cannot write: {error.strerror}")
    if error.errno in _SYSTEM:
        named = "" if error.filename is None else f"{_shortened(os.fsdecode(error.filename))}: "
        return _wrong(f"{named}{error.strerror}")
    return _bug(error, arguments)


def _shortened(name: str) -> str:
    return name if len(name) <= _NAME else f"{name[:_NAME]}..."


def _wrong(words: str) -> int:
    lines = [_harmless(line) for line in f"git formula: {words}".split("\n")]
    if sys.stderr.isatty():
        from formula_vcs.reports.terminal import WIDTH, folded

        lines = [
            f"{'  ' if at else ''}{part}" for line in lines for at, part in enumerate(folded(line, WIDTH, WIDTH - 2))
        ]
    print("\n".join(lines), file=sys.stderr)
    return WRONG


def _close_output() -> None:
    """Let what is still buffered for stdout go nowhere, so that it does not raise again at exit."""
    os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())


def _run(arguments: list[str]) -> int:
    if not arguments or arguments[0] in ("-h", "--help"):
        print(usage())
        return OK if arguments else WRONG
    if arguments[0] in ("--version", "version"):
        print(f"git-formula {__version__}")
        return OK
    if arguments == AS_A_HOOK:
        return int(_without_garbage("formula_vcs.commands.check").run_as_a_hook())
    name, *rest = arguments
    known = {**COMMANDS, **CALLED_BY_GIT}
    if name not in known:
        from difflib import get_close_matches

        close = get_close_matches(name, COMMANDS, n=1)
        hint = f"; did you mean '{close[0]}'?" if close else "; 'git formula -h' lists what there is"
        raise UserError(f"'{name}' is no command{hint}")
    command, parser = _loaded(name)
    args = _parsed(parser, rest)
    with _shown(name, rest):
        status: int = command.run(args)
        sys.stdout.flush()
    return status


def parser_of(name: str) -> argparse.ArgumentParser:
    """Give the parser of a command, of those that people type or git calls."""
    return _loaded(name)[1]


def _loaded(name: str) -> tuple[ModuleType, argparse.ArgumentParser]:
    from formula_vcs.commands.command_parser import parser_for

    module, summary = COMMANDS.get(name) or CALLED_BY_GIT[name]
    command = _without_garbage(f"formula_vcs.commands.{module}")
    parser = parser_for(name, summary)
    command.arguments(parser)
    return command, parser


def _without_garbage(module: str) -> ModuleType:
    """Load a module: the collector would look through all that is loaded, again and again, and find nothing."""
    gc.disable()
    try:
        return import_module(module)
    finally:
        gc.freeze()
        gc.enable()
        # a command makes many values and few circles: looked for as often as Python does by itself, they cost a fifth
        # of a large review
        gc.set_threshold(100_000, 20, 50)


def _shown(name: str, rest: list[str]) -> AbstractContextManager[None]:
    """Page what is to be read on a terminal; what a hook says stands below the commit that it is about."""
    if name not in _READ or "--hook" in rest or not os.isatty(1):
        return nullcontext()
    from formula_vcs.git.pager import paged

    return paged()


def _parsed(parser: argparse.ArgumentParser, rest: list[str]) -> argparse.Namespace:
    if parser.get_default("dashes") is None or "--" not in rest:
        return parser.parse_intermixed_args(rest)
    # what follows "--" is a path whatever it looks like, and argparse does not say which words those were
    at = rest.index("--")
    args = parser.parse_intermixed_args(rest[:at])
    args.after, args.dashes = rest[at + 1 :], True
    return args


def usage() -> str:
    """Give the overview that -h prints."""
    from textwrap import wrap

    lines = [
        "usage: git formula COMMAND [options]",
        "",
        "Recipes of personal-care products as TOML in git.",
        "",
    ]
    wide = max(map(len, COMMANDS)) + 4
    for name, (_, summary) in COMMANDS.items():
        lines += wrap(summary, 80, initial_indent=f"  {name:<{wide - 2}}", subsequent_indent=" " * wide)
    lines += [
        "",
        "'git formula COMMAND -h' explains one; 'git formula help' lists the manual.",
        "A passing check is arithmetic: no safety assessment, no advice, no certificate.",
    ]
    return "\n".join(lines)


def _harmless(text: str) -> str:
    return "".join(c if c.isprintable() else f"\\x{ord(c):02x}" for c in text)


def _bug(error: Exception, arguments: list[str]) -> int:
    import platform
    import traceback

    if os.environ.get("FORMULA_TRACEBACK"):
        traceback.print_exception(error)
    where = traceback.extract_tb(error.__traceback__)[-1]
    print(
        f"git formula: this is a bug of ours ({type(error).__name__}: {_harmless(str(error))}).\n"
        f"  at {where.filename.rpartition('/')[2]}:{where.lineno} in {where.name}, version {__version__}, "
        f"Python {platform.python_version()}, command {_harmless(' '.join(arguments[:1]))}\n"
        f"  {ISSUES}; FORMULA_TRACEBACK=1 shows more. Nothing was written.",
        file=sys.stderr,
    )
    return BUG


if __name__ == "__main__":
    main_and_exit()

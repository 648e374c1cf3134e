"""``git formula serve-editor``: answers an editor over standard input and output, in the language server protocol."""

from __future__ import annotations

import argparse

from formula_vcs.errors import OK, UserError


def arguments(parser: argparse.ArgumentParser) -> None:
    """Declare what can be typed."""
    parser.add_argument("--stdio", action="store_true", help="as editors add it; there is no other way")


def run(args: argparse.Namespace) -> int:
    """Serve until the editor ends it."""
    del args
    try:
        from formula_vcs.editor.server import serve
    except ModuleNotFoundError as error:
        if (error.name or "").partition(".")[0] not in ("pygls", "lsprotocol", "cattrs", "attrs"):
            raise
        raise UserError("an editor is served by pygls: pip install 'formula-vcs[editor]'") from None
    serve()
    return OK

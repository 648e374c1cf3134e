"""The language server: what `answers` says, over the protocol that editors speak (LSP 3.17), through pygls.

Nothing is written to standard output but the protocol.  Texts come whole, so that no client and server can disagree on
where a line ends; lines end with a line feed, as in TOML.
"""

from __future__ import annotations

import asyncio
import datetime
import os
import sys
from pathlib import Path
from typing import Final

from lsprotocol import types
from pygls import uris
from pygls.lsp.server import LanguageServer

from formula_vcs import __version__
from formula_vcs.editor import answers
from formula_vcs.editor.caret import ClientColumns, word_at
from formula_vcs.editor.desk import Desk
from formula_vcs.model.finding import Finding
from formula_vcs.workspace.snapshot import WORKSPACE_FILE, find_workspace

_SEVERITY: Final = {
    "block": types.DiagnosticSeverity.Error,
    "warn": types.DiagnosticSeverity.Warning,
    "note": types.DiagnosticSeverity.Information,
}
_OFFERED: Final = {
    "ingredient": types.CompletionItemKind.Reference,
    "key": types.CompletionItemKind.Property,
    "value": types.CompletionItemKind.EnumMember,
    "unit": types.CompletionItemKind.Unit,
    "form": types.CompletionItemKind.Snippet,
}
_PAUSE: Final = 0.02  # s without a key stroke before a text is judged
_REST: Final = 0.3  # s before the files that rest on it are


class FormulaServer(LanguageServer):
    """One server: its workspaces by their folders, and what was said of each open file."""

    def __init__(self) -> None:
        """Begin without any file."""
        super().__init__("git-formula", __version__, text_document_sync_kind=types.TextDocumentSyncKind.Full)
        self.desks: dict[Path, Desk] = {}
        self.said: dict[str, list[Finding]] = {}
        self.settled: dict[str, list[Finding]] = {}
        self._waiting: dict[str, asyncio.TimerHandle] = {}
        self._tasks: set[asyncio.Task[None]] = set()

    def columns(self) -> ClientColumns:
        """Give how this client counts columns."""
        return ClientColumns(str(getattr(self.workspace.position_encoding, "value", self.workspace.position_encoding)))

    def find(self, uri: str) -> tuple[Desk, str] | None:
        """Give the desk and the path in its workspace of a file; None for what is no file of a workspace."""
        name = uris.to_fs_path(uri) if uri.startswith("file:") else None
        if not name or "\0" in name or not name.endswith(".toml"):
            return None
        file = Path(os.path.normpath(name))
        try:
            root = next((root for root in self.desks if file.is_relative_to(root)), None) or find_workspace(file.parent)
        except OSError:
            return None
        if root is None and file.name == WORKSPACE_FILE:
            root = file.parent
        if root is None:
            return None
        return self.desks.setdefault(root, Desk(root)), file.relative_to(root).as_posix()

    def uri(self, desk: Desk, path: str) -> str:
        """Give the address of a file of a workspace."""
        return uris.from_fs_path(str(desk.root / path)) or ""

    def changed(self, uri: str, text: str) -> None:
        """Take a text, and judge it once nobody has typed for a moment."""
        found = self.find(uri)
        if found is None:
            return
        desk, path = found
        desk.put(path, text)
        self._later(uri, _PAUSE, uri)
        for other in desk.resting_on(path):
            self._later(self.uri(desk, other), _REST, self.uri(desk, other))

    def _later(self, key: str, seconds: float, uri: str) -> None:
        waiting = self._waiting.pop(key, None)
        if waiting is not None:
            waiting.cancel()
        self._waiting[key] = asyncio.get_running_loop().call_later(seconds, self.publish, uri)

    def publish(self, uri: str) -> None:
        """Say what is wrong with an open file."""
        self._waiting.pop(uri, None)
        found = self.find(uri)
        if found is None or found[1] not in found[0].source.texts:
            return
        desk, path = found
        self.said[uri] = desk.judged(path, datetime.datetime.now(tz=datetime.UTC).astimezone().date())
        lines = desk.text(path).split("\n")
        columns = self.columns()
        findings = [*self.said[uri], *self.settled.get(uri, ())]
        document = self.workspace.text_documents.get(uri)
        self.text_document_publish_diagnostics(
            types.PublishDiagnosticsParams(
                uri=uri,
                version=None if document is None else document.version,
                diagnostics=[_diagnostic(finding, lines, columns) for finding in findings],
            )
        )

    def settle(self, uri: str) -> None:
        """Ask the whole workspace about a file, beside what is typed."""
        found = self.find(uri)
        if found is None:
            return
        desk, path = found
        moment = desk.apart()

        async def ask() -> None:
            day = datetime.datetime.now(tz=datetime.UTC).astimezone().date()
            self.settled[uri] = await asyncio.to_thread(desk.settled, moment, path, day)
            self.publish(uri)

        task = asyncio.get_running_loop().create_task(ask())
        self._tasks.add(task)
        task.add_done_callback(self._tasks.discard)

    def caret(self, uri: str, position: types.Position) -> tuple[Desk, str, int, int] | None:
        """Give the file and the place in characters of a position."""
        found = self.find(uri)
        if found is None:
            return None
        desk, path = found
        lines = desk.text(path).split("\n")
        line = min(position.line, len(lines) - 1)
        return desk, path, line, self.columns().from_client(lines[line], position.character)

    def range(self, lines: list[str], line: int, start: int, end: int) -> types.Range:
        """Give a range of one line as the client counts."""
        columns = self.columns()
        text = lines[line] if line < len(lines) else ""
        return types.Range(
            types.Position(line, columns.to_client(text, start)), types.Position(line, columns.to_client(text, end))
        )

    def location(self, desk: Desk, spot: answers.Spot) -> types.Location:
        """Give a place as the client counts."""
        lines = desk.text(spot.path).split("\n")
        return types.Location(self.uri(desk, spot.path), self.range(lines, spot.line, spot.column, spot.end))


def _diagnostic(finding: Finding, lines: list[str], columns: ClientColumns) -> types.Diagnostic:
    at = min(max(finding.line - 1, 0), len(lines) - 1)
    line = lines[at].rstrip("\r")
    start, end = word_at(line, min(max(finding.column - 1, 0), len(line)))
    return types.Diagnostic(
        range=types.Range(
            types.Position(at, columns.to_client(line, start)), types.Position(at, columns.to_client(line, end))
        ),
        message=f"{finding.message} ({finding.source})" if finding.source else finding.message,
        severity=_SEVERITY[finding.severity],
        code=finding.rule,
        source="git formula",
    )


def serve() -> None:
    """Serve one editor over standard input and output until it says so."""
    sys.stdout.flush()
    channel = os.fdopen(os.dup(1), "wb")
    os.dup2(2, 1)  # whatever prints from here on does not speak into the protocol
    server().start_io(sys.stdin.buffer, channel)


def server() -> FormulaServer:
    """Make the server with all that it answers."""
    made = FormulaServer()
    _texts(made)
    _questions(made)
    _places(made)
    return made


def _texts(made: FormulaServer) -> None:
    @made.feature(types.TEXT_DOCUMENT_DID_OPEN)
    async def opened(ls: FormulaServer, params: types.DidOpenTextDocumentParams) -> None:
        ls.changed(params.text_document.uri, params.text_document.text)
        ls.settle(params.text_document.uri)

    @made.feature(types.TEXT_DOCUMENT_DID_CHANGE)
    async def changed(ls: FormulaServer, params: types.DidChangeTextDocumentParams) -> None:
        document = ls.workspace.get_text_document(params.text_document.uri)
        ls.changed(params.text_document.uri, document.source)

    @made.feature(types.TEXT_DOCUMENT_DID_SAVE)
    async def saved(ls: FormulaServer, params: types.DidSaveTextDocumentParams) -> None:
        found = ls.find(params.text_document.uri)
        if found is not None:
            found[0].source.moved()
        ls.settle(params.text_document.uri)

    @made.feature(types.TEXT_DOCUMENT_DID_CLOSE)
    async def closed(ls: FormulaServer, params: types.DidCloseTextDocumentParams) -> None:
        uri = params.text_document.uri
        found = ls.find(uri)
        ls.said.pop(uri, None)
        ls.settled.pop(uri, None)
        if found is not None:
            found[0].drop(found[1])
            ls.text_document_publish_diagnostics(types.PublishDiagnosticsParams(uri=uri, diagnostics=[]))

    @made.feature(types.WORKSPACE_DID_CHANGE_WATCHED_FILES)
    async def watched(ls: FormulaServer, params: types.DidChangeWatchedFilesParams) -> None:
        del params
        for desk in ls.desks.values():
            desk.source.moved()
            for path in list(desk.source.texts):
                ls.publish(ls.uri(desk, path))

    @made.feature(types.INITIALIZED)
    async def ready(ls: FormulaServer, params: types.InitializedParams) -> None:
        del params
        watching = ls.client_capabilities.workspace
        files = None if watching is None else watching.did_change_watched_files
        if files is None or not files.dynamic_registration:
            return
        options = types.DidChangeWatchedFilesRegistrationOptions([types.FileSystemWatcher("**/*.toml")])
        registration = types.Registration("toml-files", types.WORKSPACE_DID_CHANGE_WATCHED_FILES, options)
        await ls.client_register_capability_async(types.RegistrationParams([registration]))


def _questions(made: FormulaServer) -> None:
    @made.feature(types.TEXT_DOCUMENT_HOVER)
    def hover(ls: FormulaServer, params: types.HoverParams) -> types.Hover | None:
        here = ls.caret(params.text_document.uri, params.position)
        words = "" if here is None else answers.hover(*here, _today())
        return types.Hover(types.MarkupContent(types.MarkupKind.Markdown, words)) if words else None

    @made.feature(
        types.TEXT_DOCUMENT_COMPLETION, types.CompletionOptions(trigger_characters=['"', "/", "=", ".", "[", " "])
    )
    def complete(ls: FormulaServer, params: types.CompletionParams) -> types.CompletionList:
        here = ls.caret(params.text_document.uri, params.position)
        if here is None:
            return types.CompletionList(False, [])
        desk, path, line, column = here
        lines = desk.text(path).split("\n")
        items = [
            types.CompletionItem(
                offer.word,
                kind=_OFFERED[offer.kind],
                detail=offer.about or None,
                filter_text=lines[line][offer.start : offer.end] + offer.word.strip('"')
                if offer.kind == "unit"
                else None,
                text_edit=types.TextEdit(ls.range(lines, line, offer.start, offer.end), offer.word),
            )
            for offer in answers.offers(desk, path, line, column)
        ]
        return types.CompletionList(is_incomplete=False, items=items)

    @made.feature(types.TEXT_DOCUMENT_INLAY_HINT)
    def inlays(ls: FormulaServer, params: types.InlayHintParams) -> list[types.InlayHint]:
        found = ls.find(params.text_document.uri)
        if found is None:
            return []
        desk, path = found
        lines, columns = desk.text(path).split("\n"), ls.columns()
        return [
            types.InlayHint(
                types.Position(hint.line, columns.to_client(lines[hint.line].rstrip(), len(lines[hint.line].rstrip()))),
                hint.label,
                padding_left=True,
                tooltip=hint.about,
            )
            for hint in answers.hints(desk, path)
            if params.range.start.line <= hint.line <= params.range.end.line
        ]


def _places(made: FormulaServer) -> None:
    @made.feature(types.TEXT_DOCUMENT_DEFINITION)
    def define(ls: FormulaServer, params: types.DefinitionParams) -> types.Location | None:
        here = ls.caret(params.text_document.uri, params.position)
        spot = None if here is None else answers.definition(*here)
        return None if here is None or spot is None else ls.location(here[0], spot)

    @made.feature(types.TEXT_DOCUMENT_REFERENCES)
    def refer(ls: FormulaServer, params: types.ReferenceParams) -> list[types.Location]:
        here = ls.caret(params.text_document.uri, params.position)
        return [] if here is None else [ls.location(here[0], spot) for spot in answers.uses(*here)]

    @made.feature(types.TEXT_DOCUMENT_CODE_ACTION, types.CodeActionOptions([types.CodeActionKind.QuickFix]))
    def mend(ls: FormulaServer, params: types.CodeActionParams) -> list[types.CodeAction]:
        uri = params.text_document.uri
        found = ls.find(uri)
        if found is None:
            return []
        desk, path = found
        lines, columns = desk.text(path).split("\n"), ls.columns()
        made_of: list[types.CodeAction] = []
        for finding in ls.said.get(uri, ()):
            if not params.range.start.line <= finding.line - 1 <= params.range.end.line:
                continue
            for fix in answers.fixes(desk, path, finding, _today()):
                edit = types.TextEdit(ls.range(lines, fix.line, fix.start, fix.end), fix.text)
                made_of.append(
                    types.CodeAction(
                        fix.title,
                        kind=types.CodeActionKind.QuickFix,
                        diagnostics=[_diagnostic(finding, lines, columns)],
                        is_preferred=fix.sure,
                        edit=types.WorkspaceEdit(changes={uri: [edit]}),
                    )
                )
        return made_of


def _today() -> datetime.date:
    return datetime.datetime.now(tz=datetime.UTC).astimezone().date()

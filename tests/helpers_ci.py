"""Run the jobs of our CI files for real: their own lines in real shells, against an API that we serve."""

from __future__ import annotations

import json
import os
import re
import subprocess
import sys
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path
from typing import Any

import yaml

ROOT = Path(__file__).resolve().parents[1]
HOOKS = ROOT / "hooks"


def ci_file(name: str) -> Any:
    """Read a CI file.  YAML 1.1 takes the key ``on`` for true."""
    return yaml.safe_load((HOOKS / name).read_text("utf-8"))


def program(folder: Path) -> str:
    """Put ``git-formula`` of this tree into a folder, and give a PATH that begins with it."""
    folder.mkdir(parents=True, exist_ok=True)
    script = folder / "git-formula"
    script.write_text(f'#!/bin/sh\nPYTHONPATH="{ROOT}" exec "{sys.executable}" -m formula_vcs "$@"\n', "utf-8")
    script.chmod(0o755)
    return f"{folder}:{Path(sys.executable).parent}:{os.environ['PATH']}"


def ran(shell: str, text: str, cwd: Path, env: dict[str, str]) -> subprocess.CompletedProcess[bytes]:
    """Run a block as the runner does: as a file, with its shell's options."""
    file = cwd.parent / "block"
    file.write_text(text, "utf-8")
    words = {
        "bash": ["bash", "--noprofile", "--norc", "-eo", "pipefail", str(file)],
        "python": [sys.executable, str(file)],
        "sh": ["sh", "-e", str(file)],
    }[shell]
    return subprocess.run(words, cwd=cwd, env=env, capture_output=True, check=False, timeout=120)


@dataclass
class Api:
    """What a code host's API knows, and who asked it for what."""

    answers: dict[str, Any] = field(default_factory=dict)
    asked: list[tuple[str, str, Any]] = field(default_factory=list)
    url: str = ""

    @property
    def written(self) -> list[tuple[str, str, Any]]:
        """Give what was written, not what was read."""
        return [call for call in self.asked if call[0] != "GET"]


@contextmanager
def served() -> Iterator[Api]:
    """Serve an API on this machine."""
    api = Api()

    class Handler(BaseHTTPRequestHandler):
        def _any(self) -> None:
            path = re.sub(r"[?&](?:per_page|page)=\d+", "", self.path)
            data = json.loads(self.rfile.read(int(self.headers.get("Content-Length") or 0)) or b"null")
            api.asked.append((self.command, path, data))
            body = json.dumps(api.answers.get(path, {} if self.command != "GET" else [])).encode()
            self.send_response(200)
            self.send_header("Content-Length", str(len(body)))
            self.end_headers()
            self.wfile.write(body)

        do_GET = do_POST = do_PUT = do_PATCH = _any  # noqa: N815 - as the library names them

        def log_message(self, format: str, *args: Any) -> None:  # noqa: A002 - as the library names it
            pass

    server = ThreadingHTTPServer(("127.0.0.1", 0), Handler)
    threading.Thread(target=server.serve_forever, daemon=True).start()
    api.url = f"http://127.0.0.1:{server.server_port}"
    try:
        yield api
    finally:
        server.shutdown()
        server.server_close()

"""Run many commands in one process and say of each what it did: ``python driver.py PLAN RESULTS``, both JSON."""

from __future__ import annotations

import contextlib
import io
import json
import sys
import time
from pathlib import Path

from formula_vcs.cli import main


def run(words: list[str]) -> dict[str, object]:
    """Run a command as a program would run, and give its exit status, what it wrote, and its seconds."""
    out, err = (io.TextIOWrapper(io.BytesIO(), "utf-8", errors="backslashreplace", newline="") for _ in range(2))
    started = time.perf_counter()
    with contextlib.redirect_stdout(out), contextlib.redirect_stderr(err):
        try:
            status = main(words)
        except SystemExit as stopped:
            status = int(stopped.code or 0)
    seconds = time.perf_counter() - started
    texts = []
    for stream in (out, err):
        stream.flush()
        texts.append(stream.buffer.getvalue().decode("utf-8", "replace"))
    return {"words": words, "status": status, "out": texts[0], "err": texts[1], "seconds": seconds}


if __name__ == "__main__":
    with Path(sys.argv[2]).open("w", encoding="utf-8") as results:
        for plan in json.loads(Path(sys.argv[1]).read_text("utf-8")):
            print(json.dumps(run(plan)), file=results, flush=True)

"""Run many commands in one process and say of each what it did: ``python driver.py PLAN RESULTS``, both JSON."""

from __future__ import annotations

import contextlib
import io
import json
import os
import sys
from pathlib import Path

from formula_vcs.cli import main


def _worked() -> float:
    return sum(os.times()[:4])


def run(words: list[str]) -> dict[str, object]:
    """Run a command as a program would run, and give its exit status, what it wrote, and its seconds of work.

    Seconds are those of the processor, those of the git that it ran among them: what else runs here counts for nothing.
    """
    out, err = (io.TextIOWrapper(io.BytesIO(), "utf-8", errors="backslashreplace", newline="") for _ in range(2))
    started = _worked()
    with contextlib.redirect_stdout(out), contextlib.redirect_stderr(err):
        try:
            status = main(words)
        except SystemExit as stopped:
            status = int(stopped.code or 0)
    seconds = _worked() - started
    texts = []
    for stream in (out, err):
        stream.flush()
        texts.append(stream.buffer.getvalue().decode("utf-8", "replace"))
    return {"words": words, "status": status, "out": texts[0], "err": texts[1], "seconds": seconds}


if __name__ == "__main__":
    with Path(sys.argv[2]).open("w", encoding="utf-8") as results:
        for plan in json.loads(Path(sys.argv[1]).read_text("utf-8")):
            print(json.dumps(run(plan)), file=results, flush=True)

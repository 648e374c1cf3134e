"""Measure the look-up in Annexes II to VI: ``python tests/bench/annexes.py``.

Budgets: 10 ms more for a check of one recipe, all of it cold; 1.2 MB of the wheel.  All in this process: what starting
a Python costs is in the other files of this folder.
"""

from __future__ import annotations

import io
import sys
import time
import zipfile
from collections.abc import Callable
from pathlib import Path
from statistics import median

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))
from formula_vcs.law import annex_store, sorted_table

ROUNDS = 15
# A product of fifteen materials: some regulated, some not, some unheard of.
NAMES = (
    ("aqua", "7732-18-5"), ("glycerin", "56-81-5"), ("phenoxyethanol", "122-99-6"), ("octocrylene", "6197-30-4"),
    ("titanium dioxide", "13463-67-7"), ("ci 77491", "1309-37-1"), ("linalool", "78-70-6"), ("limonene", "5989-27-5"),
    ("sodium benzoate", "532-32-1"), ("petrolatum", "8009-03-8"), ("mica", "12001-26-2"), ("squalane", "111-01-3"),
    ("triethanolamine", "102-71-6"), ("carbomer", ""), ("house blend no. 7", ""),
)  # fmt: skip


def _forget() -> None:
    """Let go of what was looked up, and of the files."""
    for kept in (annex_store._ids, annex_store._families, annex_store.annex_row, sorted_table.shared_table):
        kept.cache_clear()


def _all() -> None:
    for name, cas in NAMES:
        annex_store.annex_rows_about((name, name), (cas,) if cas else ())


def _milliseconds(what: Callable[[], None], before: Callable[[], None]) -> float:
    def once() -> float:
        before()
        start = time.perf_counter()
        what()
        return (time.perf_counter() - start) * 1000

    return median(once() for _ in range(ROUNDS))


def _packed(folder: Path) -> float:
    """Give how many MB the files of a folder take in a wheel."""
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as archive:
        for file in sorted(folder.iterdir()):
            archive.write(file, file.name)
    return len(out.getvalue()) / 1e6


def main() -> None:
    """Measure and print."""
    cold = _milliseconds(_all, _forget)
    warm = _milliseconds(_all, lambda: None)
    size = _packed(Path(annex_store.__file__).with_name("annexes"))
    print(f"| look up 15 substances, files closed | {cold:.2f} ms | 10 ms |")
    print(f"| the same again, as in the next recipe | {warm:.3f} ms | |")
    print(f"| tables and compiled rows in the wheel | {size:.2f} MB | 1.2 MB |")


if __name__ == "__main__":
    main()

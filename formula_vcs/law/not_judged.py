"""What nobody here judges, by name: silence about a market or a field of law would read as a pass."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Final

from formula_vcs.model.law_row import MARKETS

_IFRA: Final = "IFRA standards"
# Fields of the law of each market that no pack has, shortly and with their source.
FIELDS: Final[dict[str, tuple[str, ...]]] = {
    "EU": (
        "the safety assessment (Regulation (EC) No 1223/2009, Article 10)",
        "purity of colorants and UV filters (Annexes IV and VI)",
        "classification by CLP (Regulation (EC) No 1272/2008)",
        _IFRA,
    ),
    "US": (
        "safety substantiation, registration and listing (MoCRA)",
        "drugs without prescription beyond seven monographs, their combinations and tests",
        "laws of single states",
        _IFRA,
    ),
}
_MOST_NAMED: Final = 2


def open_fields(products: Iterable[tuple[str, Sequence[str]]]) -> tuple[str, ...]:
    """Name what is not judged of some products, each with its markets: other markets first, then fields of law."""
    found: dict[str, None] = {}
    bare: list[str] = []
    named: set[str] = set()
    for name, markets in products:
        named.update(markets)
        if not markets:
            bare.append(name)
    if bare:
        more = f" and {len(bare) - _MOST_NAMED} more" if len(bare) > _MOST_NAMED else ""
        found[f"the law, where no market is named ({', '.join(bare[:_MOST_NAMED])}{more})"] = None
    found |= dict.fromkeys(f"market {market}" for market in sorted(named.difference(MARKETS)))
    found |= dict.fromkeys(field for market in MARKETS if market in named for field in FIELDS.get(market, ()))
    return tuple(found)


def not_judged_words(fields: Sequence[str]) -> str:
    """Say it in one sentence, "" where there is nothing to say.

    >>> not_judged_words(("market CN", "IFRA standards"))
    'Not judged here: market CN; IFRA standards.'
    """
    return f"Not judged here: {'; '.join(fields)}." if fields else ""

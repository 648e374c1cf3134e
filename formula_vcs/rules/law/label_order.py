"""The order of an ingredient list where materials state their composition as ranges."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import pairwise

from formula_vcs.figures.ingredient_list import LabelLine
from formula_vcs.figures.ranged import ranged_materials
from formula_vcs.law.labelling import ingredient_list
from formula_vcs.law.limit_use import percent
from formula_vcs.model.finding import Finding
from formula_vcs.rules.rule import COMMON_PRACTICE, Case, Rule


class LabelOrder(Rule):
    """The order of the ingredient list does not hang on where in its range a supplier's material lies.

    Why: the list is in falling order of weight (Regulation (EC) No 1223/2009, Article 19(1)(g); 21 CFR 701.3(a)). It
    is printed by the middle of each range. Where two names could change places inside the ranges, or one could come
    below or above 1 %, where the order becomes free, the supplier has to say more, or the artwork waits. Two names
    that one range moves together are taken as if they moved apart.

    So:
        [substances]
        "Coco-Betaine" = "29 to 31"          # in place of "25 to 35"
    """

    id = "label-order"
    severity = "note"
    source = COMMON_PRACTICE

    def check(self, case: Case) -> Iterator[Finding]:
        """Compare each name's range with that of the next one, market by market."""
        found = case.finished
        names = ranged_materials(case.sums) if found is not None else ()
        if found is None or not names or case.sums.composition.is_open:
            return
        said: dict[tuple[str, str], list[str]] = {}
        for market in found.markets or ("EU",):
            lines = ingredient_list(case.sums, case.day, market)
            for both in (*_places(lines), *_crossing(lines, market)):
                said.setdefault(both, []).append(market)
        for (subject, doubt), markets in said.items():
            where = f" ({', '.join(markets)})" if len(found.markets) > 1 else ""
            text = f"ingredient list{where}: {doubt}; ask for narrower ranges of {', '.join(names)}"
            yield self.say(case, text, ("phase",), subject=subject)


def _places(lines: tuple[LabelLine, ...]) -> Iterator[tuple[str, str]]:
    ordered = [line for line in lines if line.part == "ordered"]
    for first, second in pairwise(ordered):
        if second.most > first.least and (first.ends is not None or second.ends is not None):
            words = f"'{first.inci}' ({_range(first)}) and '{second.inci}' ({_range(second)}) may change places"
            yield " / ".join(sorted((first.inci, second.inci))), words


def _crossing(lines: tuple[LabelLine, ...], market: str) -> Iterator[tuple[str, str]]:
    for line in lines:
        if line.ends is None or line.part not in ("ordered", "free"):
            continue
        below = line.least <= 1 if market == "US" else line.least < 1
        above = line.most > 1 if market == "US" else line.most >= 1
        if below and above:
            yield line.inci, f"'{line.inci}' ({_range(line)}) may lie on either side of 1 %"


def _range(line: LabelLine) -> str:
    if line.ends is None:
        return percent(line.pct)
    return f"{percent(line.least).removesuffix(' %')} to {percent(line.most)}"

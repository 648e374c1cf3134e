"""Many recipes on one page: it stays small, and says what it leaves out."""

from __future__ import annotations

import pytest

from formula_vcs.reports.page import budget
from formula_vcs.review.compare import Review
from tests.helpers_html import parsed
from tests.helpers_page import review

CREAM = review("hand-cream", ("hand-cream.toml", '"6 min"', '"7 min"'))


def test_pictures_go_first_then_words_never_the_heading(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(budget, "PICTURES_UP_TO", 3000)
    monkeypatch.setattr(budget, "WORDS_UP_TO", 5000)

    def words(_: Review, pictures: bool) -> str:
        return f"<p>{'picture' if pictures else 'words'}</p>{'x' * 1000}"

    page = parsed(budget.written([CREAM] * 9, lambda number, _: f'<h2 id="r{number}h">{number}</h2>', words))

    kinds = [section.one("p").text for section in page.all("section")]
    assert ["picture"] * 3 + ["words"] * 2 == kinds[:5]
    assert all("left out here" in kind for kind in kinds[5:])
    assert [str(number) for number in range(1, 10)] == [head.text for head in page.all("h2")]

"""The process as lanes: vessels, changed steps, and the paths of charges that ask for something."""

from __future__ import annotations

from formula_vcs.reports.page.lanes import MOST_LANES, MOST_STEPS, lanes
from formula_vcs.reports.page.paths import Path, paths
from tests.helpers_demo import Edit, texts
from tests.helpers_html import Element, parsed
from tests.helpers_page import SWAP, review

LONGER: Edit = ("hand-cream.toml", 'time  = "6 min"', 'time  = "9 min"')


def drawn(recipe: str, *edits: Edit) -> Element:
    found = review(recipe, *edits)
    assert found.sides is not None
    return parsed(lanes(found, found.sides))


def ways(recipe: str, *edits: Edit) -> dict[str, Path]:
    found = review(recipe, *edits)
    assert found.sides is not None
    return {way.charge: way for way in paths(found, found.sides)}


def test_a_grade_that_must_not_see_the_rotor_is_hurt_in_the_steps_that_work_it() -> None:
    found = ways("face-polish", SWAP)

    silica = found["A/silica-polishing"]
    assert next(iter(found.values())) is silica
    assert ("low shear at most",) == silica.asks
    assert {"open-silica", "add-clay"} == silica.hurt
    assert silica.broken
    assert not found["C/silica-polishing"].broken


def test_a_path_is_there_from_the_step_that_brings_the_charge() -> None:
    lavender = ways("hand-cream", LONGER)["C/lavender-oil"]

    assert "add-finish" == lavender.steps[0]
    assert ("low shear at most", "at most 45 degC", "added below 45 degC") == lavender.asks


def test_the_cross_stands_in_the_steps_that_hurt_and_words_say_so() -> None:
    page = drawn("face-polish", SWAP)

    steps = {step.all("strong")[0].text: step for step in page.all("li", "step") if step.all("strong")}
    assert {"4 open-silica", "5 add-clay"} == {name for name, step in steps.items() if step.all("path", "cross")}
    assert "hurts silica-polishing" in steps["4 open-silica"].text
    assert "a is hurt by it" == steps["4 open-silica"].one("desc").text
    assert "a silica-polishing (A): low shear at most not kept" in page.one("ul", "legend").text


def test_a_changed_step_is_a_diamond_with_words() -> None:
    page = drawn("hand-cream", LONGER)

    changed = [step for step in page.all("li", "step") if step.all("path", "changed")]
    assert 1 == len(changed)
    assert "7 emulsify" in changed[0].text
    assert "changed" in changed[0].text
    assert "time: 6 min \u2192 9 min" in changed[0].text


def test_vessels_have_lanes_that_join() -> None:
    page = drawn("hand-cream", LONGER)

    legend = [entry.text for entry in page.one("ul", "legend").all("li")]
    assert ["1 vessel gum-pot", "2 vessel main, Anchor vessel 150 L"] == legend[:2]
    joins = [step.all("strong")[0].text for step in page.all("li", "step") if step.all("path", "l1")]
    assert ["4 hydrate-gum", "7 emulsify"] == joins


def test_a_new_and_a_removed_step_are_named() -> None:
    step = '[[step]]\nid    = "{}"\ninto  = "main"\nshear = "low"\ntime  = "1 min"\n\n'
    old = '[[step]]\nid    = "cool"\n'

    page = drawn("hand-cream", ("hand-cream.toml", old, step.format("stir-on") + old))
    assert "stir-on in main new" in page.text

    text = review("hand-cream", ("hand-cream.toml", 'id    = "cool"', 'id    = "cool-down"'))
    assert text.sides is not None
    assert "step 'cool': removed" in lanes(text, text.sides).replace("&#x27;", "'")


def test_a_process_that_did_not_change_is_folded() -> None:
    page = drawn("hand-cream", ("hand-cream.toml", "glycerin          = 5.00", "glycerin          = 5.10"))

    assert "The process, which did not change" == page.one("summary").text


def test_a_recipe_without_steps_has_no_process() -> None:
    text = texts()["hand-cream.toml"]
    steps, spec = text.index("[[step]]"), text.index("[spec]")

    found = review("hand-cream", ("hand-cream.toml", text[steps:spec], ""))

    assert found.sides is not None
    assert "" == lanes(found, found.sides)


def test_more_vessels_or_steps_than_can_be_drawn_are_said() -> None:
    one = '[[step]]\nid = "s{0}"\ninto = "{1}"\nadd = ["A/glycerin"]\n\n'
    vessels = "".join(one.format(n, f"v{n}") for n in range(MOST_LANES + 1))
    steps = "".join(one.format(n, "main") for n in range(MOST_STEPS))
    first = '[[step]]\nid    = "pour-humectant"'

    assert "too many to draw as lanes" in drawn("hand-cream", ("hand-cream.toml", first, vessels + first)).text
    page = drawn("hand-cream", ("hand-cream.toml", first, steps + first))
    assert "more steps, left out here" in page.text
    assert MOST_STEPS + 1 == len(page.all("li", "step"))


def _steps(page: Element) -> dict[str, Element]:
    return {step.all("strong")[0].text: step for step in page.all("li", "step") if step.all("strong")}


def test_a_charge_that_went_to_another_step_is_marked_in_both() -> None:
    page = drawn(
        "hand-cream",
        ("hand-cream.toml", "glyceryl-caprylate    = 0.50\n", ""),
        ("hand-cream.toml", "lavender-oil   = 0.15\n", "lavender-oil   = 0.15\nglyceryl-caprylate = 0.50\n"),
    )

    told = {name: step.text for name, step in _steps(page).items() if "glyceryl-caprylate, " in step.text}
    into = next(text for name, text in told.items() if name.endswith("add-finish"))
    out = next(text for name, text in told.items() if not name.endswith("add-finish"))
    left = next(name.split()[1] for name in told if not name.endswith("add-finish"))
    assert f"+ glyceryl-caprylate, was in step '{left}'" in into
    assert "\u2212 glyceryl-caprylate, now in step 'add-finish'" in out
    assert set(told) <= {name for name, step in _steps(page).items() if step.all("path", "changed")}


def test_another_grade_and_another_amount_are_marked_where_they_come_in() -> None:
    polish = _steps(drawn("face-polish", SWAP))
    assert 1 == sum("+ silica-polishing, was silica-thickening" in step.text for step in polish.values())

    cream = _steps(drawn("hand-cream", ("hand-cream.toml", "lavender-oil   = 0.15", "lavender-oil   = 0.12")))
    marked = {name.split()[1] for name, step in cream.items() if step.all("path", "changed")}
    assert {"add-finish"} == marked


def test_a_charge_that_is_new_and_one_that_is_gone_are_marked() -> None:
    page = drawn(
        "hand-cream",
        ("hand-cream.toml", "lavender-oil   = 0.15\n", ""),
        ("hand-cream.toml", "shea-butter           = 4.00", "shea-butter           = 4.00\nbeeswax = 0.10"),
    )

    told = " ".join(step.text for step in _steps(page).values())
    assert "+ beeswax, new" in told
    assert "\u2212 lavender-oil, removed" in told

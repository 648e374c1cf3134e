"""The demo's process: clean as it stands, and refused where somebody breaks it."""

from __future__ import annotations

import pytest

from tests.helpers_demo import RECIPES, demo, said, step, texts

POLISH = "face-polish.toml"
FOLD = step((RECIPES / POLISH).read_text("utf-8"), "fold-polish")


@pytest.mark.parametrize("recipe", sorted(p.stem for p in RECIPES.glob("*.toml") if p.stem != "workspace"))
def test_the_demo_is_clean(recipe: str) -> None:
    assert [] == said(demo(recipe))


@pytest.mark.parametrize("premix", sorted(p.stem for p in (RECIPES / "premixes").glob("*.toml")))
def test_its_premixes_are_clean(premix: str) -> None:
    assert [] == said(demo(premix))


def test_one_step_from_low_to_high_shear_is_blocked() -> None:
    """With the charge, the step, the numbers and the reason."""
    rough = (
        FOLD.replace('"fold"', '"high"').replace("anchor-vessel", "plant-rotor-stator").replace("14 rpm", "3200 rpm")
    )
    found = said(demo("face-polish", (POLISH, FOLD, rough)))

    assert [("shear-at-most", "block")] == [(f.rule, f.severity) for f in found]
    for words in (
        "step 'fold-polish'", "high shear (3200 rpm, 20 min; tip speed 15.1 m/s, gap shear 30,200 1/s)",
        "phase C, 'silica-polishing'", "must see low shear at most", "splinters",
    ):  # fmt: skip
        assert words in found[0].message


def test_swapping_the_grades_places_is_blocked_twice() -> None:
    """One is overexposed, the other never activated."""
    swapped = [
        (POLISH, "silica-thickening = 4.50", "silica-polishing = 4.50"),
        (POLISH, "silica-polishing = 9.00", "silica-thickening = 9.00"),
    ]
    found = said(demo("face-polish", *swapped))

    assert {"shear-at-most", "shear-at-least"} == {f.rule for f in found if f.severity == "block"}
    over = [f for f in found if f.rule == "shear-at-most"]
    assert all("'silica-polishing'" in f.message for f in over)
    assert ["open-silica", "add-clay"] == [f.at[1] for f in over]
    (never,) = (f for f in found if f.rule == "shear-at-least")
    assert "phase C, 'silica-thickening'" in never.message
    assert "the most it sees is low" in never.message


def test_a_mixer_swapped_under_an_unchanged_mode_is_seen_by_its_numbers() -> None:
    rough = FOLD.replace("anchor-vessel", "plant-rotor-stator").replace("14 rpm", "3200 rpm")
    (found,) = said(demo("face-polish", (POLISH, FOLD, rough)))

    assert ("shear-numbers", "warn") == (found.rule, found.severity)
    assert "'silica-polishing' must see low at most" in found.message


def test_a_raised_ph_warns_with_the_free_acid() -> None:
    raised = [
        ("face-toner.toml", '"4.7 to 5.1"', '"5.4 to 5.8"'),
        ("face-toner.toml", 'pH        = "4.7 to 5.1"', 'pH        = "5.4 to 5.8"'),
    ]
    (found,) = said(demo("face-toner", *raised))

    assert ("preservative-window", "warn") == (found.rule, found.severity)
    assert "free benzoic acid 0.027 to 0.011 % of the water phase" in found.message


def test_doubling_the_batch_overfills_the_vessel() -> None:
    found = said(demo("hand-cream", ("hand-cream.toml", 'batch   = "100 kg"', 'batch   = "200 kg"')))

    assert {("vessel-fill", "block")} == {(f.rule, f.severity) for f in found}
    assert any("Anchor vessel 150 L" in f.message for f in found)
    assert any("Side kettle 40 L" in f.message for f in found)


@pytest.mark.parametrize(
    ("old", "new", "rule"),
    [
        ('add   = ["C"]', 'add   = ["B"]', "step-charges"),
        ('add   = ["C"]', 'add   = [{ what = "C", share = "120 %" }]', "step-charges"),
        (
            'temp  = "20 to 30 degC"\n\n[[step]]\nid      = "set-pH"',
            'temp  = "60 to 62 degC"\n\n[[step]]\nid      = "set-pH"',
            "add-below",
        ),
        ('from  = "gum-pot"', 'from  = "gum-pott"', "reference"),
        ('from  = "gum-pot"', 'from  = "main"', "reference"),
    ],
)
def test_bad_process(old: str, new: str, rule: str) -> None:
    from formula_vcs.rules.judge import judge
    from tests.helpers_demo import DAY

    text = texts()[POLISH]
    changed = text.replace(old, new, 1)
    assert changed != text
    assert rule in {f.rule for f in judge(demo("face-polish", (POLISH, text, changed)), DAY)}

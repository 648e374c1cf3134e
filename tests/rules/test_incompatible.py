"""Every pair that ships, on both sides of its conditions: found where they are met, silent where one of them is not."""

from __future__ import annotations

import datetime
from collections.abc import Callable
from fractions import Fraction

import pytest

from formula_vcs.chemistry.pair_rows import shipped
from formula_vcs.chemistry.tables import load
from formula_vcs.model.finding import Finding
from formula_vcs.model.ingredient import inci_key
from formula_vcs.model.pair import Pair, Side
from formula_vcs.rules.judge import judge
from formula_vcs.workspace.snapshot import Files, Snapshot

DAY = datetime.date(2026, 6, 1)
ROWS = shipped()
RULES = "incompatible"


def member(side: Side, but: Side | None = None) -> str:
    """Name a substance of a side that is on no other side, and in no class by its name alone."""
    others = set() if but is None else set(but.substances) | set(but.classes)
    names: dict[str, list[str]] = load("classes")["names"]
    for key, classes in names.items():
        mine = key in side.substances or not set(classes).isdisjoint(side.classes)
        if mine and others.isdisjoint((key, *classes)):
            return key
    return side.substances[0]


def workspace(pair: Pair, *, one: str, other: str = "", without: str = "", pH: str = "", **changed: str) -> Snapshot:
    """Give a product with some % of a member of each side; an empty amount leaves the side out."""
    sides = (("one", pair.one, None), ("other", pair.other, pair.one), ("without", pair.without, pair.one))
    amounts = {"one": one, "other": other, "without": without}
    charges, files = [], {}
    for name, side, but in sides:
        if side is not None and amounts[name]:
            charges.append(f"{name} = {amounts[name]}")
            files[f"ingredients/{name}.toml"] = f'title = "{name}"\n[substances]\n"{member(side, but)}" = 100\n'
    first = "other" if pair.first == "other" else "one"
    second = "one" if first == "other" else "other"
    order = [f'"A/{name}"' for name in (first, second) if amounts[name]]
    temp = '\ntemp = "60 degC"' if changed.get("hot") else ""
    steps = [
        '[[step]]\nid = "start"\ninto = "main"\nadd = ["A/water"]\nshear = "low"',
        *(f'[[step]]\nid = "s{n}"\ninto = "main"\nadd = [{name}]\nshear = "low"{temp}' for n, name in enumerate(order)),
        '[[step]]\nid = "rest"\ninto = "main"\nadd = ["A"]\nshear = "low"',
        f'[[step]]\nid = "end"\ninto = "main"\nshear = "{changed.get("rough") or "low"}"',
    ]
    spec = f'\n[spec]\npH = "{pH}"\n' if pH else ""
    product = changed.get("product", "face cream")
    recipe = (
        f'title = "P"\nproduct = "{product}"\nform = "{"emulsion" if pair.emulsion else "aqueous"}"\n[phase.A.charge]\n'
        f'water = "to 100"\n{chr(10).join(charges)}\n\n{chr(10).join(steps)}\n{spec}'
    )
    texts = {"workspace.toml": 'title = "W"\n', "p.toml": recipe, **files,
             "ingredients/water.toml": 'title = "Water"\n[substances]\n"Aqua" = 100\n'}  # fmt: skip
    return Snapshot(Files(texts))


def found(snapshot: Snapshot, name: str) -> list[Finding]:
    recipe = snapshot.recipe("p")
    assert recipe is not None
    return [f for f in judge(snapshot.formula(recipe), DAY) if f.rule == RULES and f.subject == name]


def over(side: Side | None) -> str:
    return "" if side is None else str(float(side.above + Fraction(1, 2)))


def outside(pair: Pair) -> str:
    """Give a pH range that is wholly on the row's side."""
    if pair.above_pH is not None:
        return f"{float(pair.above_pH) + 0.2:g} to {float(pair.above_pH) + 0.4:g}"
    return f"{float(pair.below_pH) - 0.4:g} to {float(pair.below_pH) - 0.2:g}" if pair.below_pH is not None else ""


def on_the_limit(pair: Pair) -> str:
    if pair.above_pH is not None:
        return f"{float(pair.above_pH) - 0.4:g} to {float(pair.above_pH):g}"
    return f"{float(pair.below_pH):g} to {float(pair.below_pH) + 0.4:g}" if pair.below_pH is not None else ""


def everything(pair: Pair, **changed: str) -> Snapshot:
    met = {
        "one": over(pair.one), "other": over(pair.other), "pH": outside(pair),
        "hot": "yes" if pair.hot is not None else "", "rough": pair.rough,
    }  # fmt: skip
    return workspace(pair, **(met | changed))


EVERY = pytest.mark.parametrize("pair", ROWS, ids=lambda pair: pair.id)


@EVERY
def test_a_pair_is_found_where_all_its_conditions_are_met(pair: Pair) -> None:
    (finding,) = found(everything(pair), pair.id)

    assert pair.severity == finding.severity
    assert pair.proof == finding.source
    assert pair.what in finding.message


@EVERY
def test_a_side_that_is_not_there_makes_no_pair(pair: Pair) -> None:
    if pair.other is not None:
        assert [] == found(everything(pair, other=""), pair.id)
    assert [] == found(everything(pair, one="", other=""), pair.id)


@EVERY
def test_no_more_than_is_left_alone_makes_no_pair(pair: Pair) -> None:
    """Exactly on the threshold of a side: nothing; and what is lacking is there when it is above its own."""
    if pair.one.above:
        assert [] == found(everything(pair, one=str(float(pair.one.above))), pair.id)
    if pair.other is not None and pair.other.above:
        assert [] == found(everything(pair, other=str(float(pair.other.above))), pair.id)
    if pair.without is not None:
        assert [] == found(everything(pair, without=over(pair.without)), pair.id)
        assert found(
            everything(pair, without=str(float(pair.without.above or 0)) if pair.without.above else ""), pair.id
        )


@pytest.mark.parametrize("pair", [pair for pair in ROWS if pair.asks_pH], ids=lambda pair: pair.id)
def test_on_the_limit_a_ph_makes_no_pair_and_an_end_over_it_a_note(pair: Pair) -> None:
    assert [] == found(everything(pair, pH=on_the_limit(pair)), pair.id)
    limit = float(pair.above_pH if pair.above_pH is not None else pair.below_pH or 0)
    (finding,) = found(everything(pair, pH=f"{limit - 0.3:g} to {limit + 0.3:g}"), pair.id)
    assert "note" == finding.severity
    assert "an end of the range only" in finding.message


@pytest.mark.parametrize("pair", [pair for pair in ROWS if pair.asks_pH], ids=lambda pair: pair.id)
def test_without_a_ph_it_is_said_that_nothing_was_judged(pair: Pair) -> None:
    snapshot = everything(pair, pH="")

    assert [] == found(snapshot, pair.id)
    (finding,) = found(snapshot, "no-pH")
    assert "note" == finding.severity
    assert pair.id in finding.message


@pytest.mark.parametrize(
    "pair", [pair for pair in ROWS if pair.first or pair.rough or pair.hot], ids=lambda pair: pair.id
)
def test_an_order_a_later_shear_and_a_heat_are_conditions(pair: Pair) -> None:
    if pair.hot is not None:
        assert [] == found(everything(pair, hot=""), pair.id)
    if pair.rough:
        assert [] == found(everything(pair, rough="medium"), pair.id)


@EVERY
def test_a_pair_of_the_water_needs_water(pair: Pair) -> None:
    """In an anhydrous product what needs water does not meet."""
    snapshot = everything(pair)
    texts = dict(snapshot.source._files)  # type: ignore[attr-defined]
    texts["ingredients/water.toml"] = b'title = "Oil"\n[substances]\n"Simmondsia Chinensis Seed Oil" = 100\n'
    dry = found(Snapshot(Files(texts)), pair.id)

    assert ("water" == pair.together or bool(pair.emulsion)) == (not dry)


def product(charges: str, ingredients: dict[str, str], *, more: str = "", form: str = "aqueous") -> Snapshot:
    texts = {
        "workspace.toml": 'title = "W"\n',
        "p.toml": f'title = "P"\nproduct = "shampoo"\nform = "{form}"\n'
        f'{charges}\n{more}\n[[step]]\nid = "s"\ninto = "main"\nadd = ["A"]\n',
        "ingredients/water.toml": 'title = "Water"\n[substances]\n"Aqua" = 100\n',
        **{f"ingredients/{name}.toml": f'title = "{name}"\n{text}\n' for name, text in ingredients.items()},
    }
    return Snapshot(Files(texts))


SLES = '[substances]\n"Sodium Laureth Sulfate" = 70\n"Aqua" = 30'
BTMS = '[substances]\n"Behentrimonium Methosulfate" = 25\n"Cetearyl Alcohol" = 75'
CHARGES = '[phase.A.charge]\nwater = "to 100"\nsles = 14\nbtms = 2'


def test_the_words_name_substances_materials_and_amounts() -> None:
    (finding,) = found(product(CHARGES, {"sles": SLES, "btms": BTMS}), "anionic-cationic")

    assert finding.message.startswith(
        "Sodium Laureth Sulfate ('sles', 9.80 %) does not go with Behentrimonium Methosulfate ('btms', 0.50 %): "
    )
    assert ("phase", "A", "charge", "btms") == finding.at


def test_a_class_that_a_material_states_takes_the_place_of_the_tables() -> None:
    """A grade that its maker sells as not charged is in no pair by class; nor is one that states none at all."""
    for stated in ('class = ["non-ionic"]', "class = []"):
        assert [] == found(product(CHARGES, {"sles": f"{stated}\n{SLES}", "btms": BTMS}), "anionic-cationic")
    made_up = 'class = ["cationic surfactant"]\n[substances]\n"Caring Thing" = 100'
    assert found(product(CHARGES, {"sles": SLES, "btms": made_up}), "anionic-cationic")


def test_a_class_known_by_the_name_alone_makes_a_note() -> None:
    quat = '[substances]\n"Oleyltrimonium Chloride" = 30\n"Aqua" = 70'
    (finding,) = found(product(CHARGES, {"sles": SLES, "btms": quat}), "anionic-cationic")

    assert "note" == finding.severity
    assert "(the class of Oleyltrimonium Chloride is known by the name alone)" in finding.message


def test_what_a_supplier_sells_as_one_material_is_his_business() -> None:
    both = '[substances]\n"Sodium Laureth Sulfate" = 50\n"Cetrimonium Chloride" = 5\n"Aqua" = 45'
    charges = '[phase.A.charge]\nwater = "to 100"\nboth = 20'

    assert [] == found(product(charges, {"both": both}), "anionic-cationic")
    assert found(product(charges + "\nbtms = 2", {"both": both, "btms": BTMS}), "anionic-cationic")


def test_a_premix_is_seen_through_to_any_depth() -> None:
    inner = 'title = "Inner"\nproduct = "premix"\n[phase.A.charge]\nwater = "to 100"\nbtms = 40\n'
    snapshot = product(CHARGES.replace("btms = 2", "outer = 10"), {"sles": SLES, "btms": BTMS})
    texts = dict(snapshot.source._files)  # type: ignore[attr-defined]
    texts |= {
        "inner.toml": inner.encode(),
        "outer.toml": inner.replace("btms", "inner-mix").replace("Inner", "Outer").encode(),
        "ingredients/inner-mix.toml": b'title = "I"\nrecipe = "inner"\n',
        "ingredients/outer.toml": b'title = "O"\nrecipe = "outer"\n',
    }  # fmt: skip
    (finding,) = found(Snapshot(Files(texts)), "anionic-cationic")

    assert "Behentrimonium Methosulfate ('btms', 0.40 %)" in finding.message  # 10 % x 40 % x 40 % x 25 %
    assert ("phase", "A", "charge", "outer") == finding.at


def test_in_a_water_in_oil_emulsion_what_is_in_the_oil_does_not_meet_the_water() -> None:
    charges = '[phase.A.charge]\nwater = "to 100"\nsles = 2\n[phase.B.charge]\noil = 20\nbtms = 2\nwo = 3\n'
    materials = {
        "sles": SLES, "btms": BTMS, "oil": '[substances]\n"Paraffinum Liquidum" = 100',
        "wo": '[substances]\n"Polyglyceryl-2 Dipolyhydroxystearate" = 100',
    }  # fmt: skip
    more = '\n[[step]]\nid = "b"\ninto = "main"\nadd = ["B"]\n'
    # with 1.4 % of sulfate against 3 % of the W/O emulsifier the water is inside
    assert [] == found(product(charges, materials, more=more, form="emulsion"), "anionic-cationic")
    assert found(
        product(charges.replace("wo = 3", "wo = 0.1"), materials, more=more, form="emulsion"), "anionic-cationic"
    )


def house(rows: str) -> Callable[[], Snapshot]:
    snapshot = product(CHARGES, {"sles": SLES, "btms": BTMS})
    texts = dict(snapshot.source._files)  # type: ignore[attr-defined]
    return lambda: Snapshot(Files({**texts, "rules/house.toml": rows.encode()}))


def test_the_house_adds_a_pair_by_function() -> None:
    row = (
        '[[pair]]\nid = "ours"\none = { function = ["scent"] }\nother = { class = ["sulfate surfactant"] }\n'
        'what = "clouds"\nsource = "house standard HS-3"\nseverity = "block"\n'
    )
    made = house(row)().source._files  # type: ignore[attr-defined]
    texts = dict(made) | {
        "ingredients/btms.toml": b'title = "S"\nfunctions = ["Scent"]\n[substances]\n"Parfum" = 100\n'
    }
    (finding,) = found(Snapshot(Files(texts)), "ours")

    assert ("block", "house standard HS-3") == (finding.severity, finding.source)


def test_the_house_switches_a_pair_off_with_its_reason() -> None:
    assert found(house("")(), "anionic-cationic")
    assert [] == found(house('[[pair]]\nid = "anionic-cationic"\noff = "tried: LT-9"\n')(), "anionic-cationic")


def test_an_accepted_pair_is_a_note() -> None:
    accepted = '[[accept]]\nrule = "incompatible"\nabout = "anionic-cationic"\nwhy = "tried: LT-9"\n'
    snapshot = product(CHARGES, {"sles": SLES, "btms": BTMS}, more=accepted)
    (finding,) = found(snapshot, "anionic-cationic")

    assert "note" == finding.severity
    assert finding.message.endswith("(accepted: tried: LT-9)")


def test_names_are_folded() -> None:
    assert "sodium laureth sulfate" == inci_key("Sodium  LAURETH Sulfate")
    loud = SLES.replace("Sodium Laureth Sulfate", "SODIUM LAURETH SULFATE")
    assert found(product(CHARGES, {"sles": loud, "btms": BTMS}), "anionic-cationic")

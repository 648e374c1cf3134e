"""Laws of the walk, tried on generated processes."""

from __future__ import annotations

from fractions import Fraction

from hypothesis import given
from hypothesis import strategies as st

from formula_vcs.figures.breakdown import Breakdown
from formula_vcs.figures.process_run import process
from formula_vcs.figures.vessels import mass_of
from formula_vcs.process.simulate import ProcessRun
from formula_vcs.workspace.snapshot import Files, Snapshot

VESSELS = ("main", "side", "pot")
MODES = ("none", "fold", "low", "medium", "high")

Steps = list[dict[str, str]]


@st.composite
def processes(draw: st.DrawFn) -> tuple[dict[str, Fraction], Steps]:
    """Draw charges with their %, and steps that add them in pieces, move them about, and end in one vessel."""
    count = draw(st.integers(2, 6))
    amounts = draw(st.lists(st.integers(1, 1000), min_size=count, max_size=count))
    charges = {f"m-{i}": Fraction(amount) for i, amount in enumerate(amounts)}
    steps: Steps = []
    for name in draw(st.permutations(sorted(charges))):
        cut = draw(st.sampled_from((100, 100, 50, 30)))
        for share in (cut, 100 - cut):
            if share:
                steps.append(_step(draw, f'add = [{{ what = "A/{name}", share = "{share} %" }}]'))
    for place, vessel in enumerate(draw(st.lists(st.sampled_from(VESSELS), max_size=2))):
        target = draw(st.sampled_from([other for other in VESSELS if other != vessel]))
        steps.append({"into": target, "more": f'from = "{vessel}"', "shear": "low", "id": f"join-{place}"})
    for place, vessel in enumerate(("side", "pot")):
        steps.append({"into": "main", "more": f'from = "{vessel}"', "shear": "low", "id": f"end-{place}"})
    return charges, steps


def _step(draw: st.DrawFn, more: str) -> dict[str, str]:
    return {"into": draw(st.sampled_from(VESSELS)), "more": more, "shear": draw(st.sampled_from(MODES)), "id": ""}


def sums(charges: dict[str, Fraction], steps: Steps) -> Breakdown:
    """Give the sums of a recipe in parts with these steps."""
    rows = "\n".join(f"{name} = {amount}" for name, amount in charges.items())
    text = f'title = "x"\namounts = "parts"\nbatch = "100 kg"\n[phase.A.charge]\n{rows}\n'
    for place, step in enumerate(steps):
        name = step["id"] or f"s-{place}"
        text += f'[[step]]\nid = "{name}"\ninto = "{step["into"]}"\n{step["more"]}\nshear = "{step["shear"]}"\n'
    snapshot = Snapshot(Files({"workspace.toml": 'title = "x"\n', "r.toml": text}))
    recipe = snapshot.recipe("r")
    assert recipe is not None, snapshot.read("r.toml").findings
    return Breakdown(snapshot.formula(recipe))


def seen(walk: ProcessRun) -> dict[str, list[tuple[str, str]]]:
    """Give what each charge lives through, repeated steps of one charge once."""
    return {key: [(e.step.id, e.shear) for e in exposures] for key, exposures in walk.exposures.items()}


@given(processes())
def test_mass_is_conserved_through_every_walk(case: tuple[dict[str, Fraction], Steps]) -> None:
    """After every step the vessels hold exactly what was added so far."""
    whole = sums(*case)
    added = Fraction(0)

    for row in process(whole).rows:
        added += sum((kg for _, kg in row.added), Fraction(0))
        assert sum(row.holds.values(), Fraction(0)) == added
    assert added == 100


@given(processes(), st.integers(1, 10**6))
def test_scaling_scales_masses_exactly(case: tuple[dict[str, Fraction], Steps], factor: int) -> None:
    whole = sums(*case)

    for stage in whole.walk.stages:
        for content in stage.contents.values():
            assert mass_of(whole, content, Fraction(factor)) == factor * mass_of(whole, content, Fraction(1))


@given(processes(), st.data())
def test_splitting_a_charge_into_shares_changes_nothing(
    case: tuple[dict[str, Fraction], Steps], data: st.DataObject
) -> None:
    """Two halves added one after the other in the same step are the whole."""
    charges, steps = case
    place = data.draw(st.sampled_from([i for i, step in enumerate(steps) if "what" in step["more"]]))
    more = steps[place]["more"]
    name = more.split('"')[1]
    share = Fraction(more.split('"')[3].removesuffix(" %"))
    part = f'{{ what = "{name}", share = "{float(share / 2):g} %" }}'
    halved = [*steps[:place], {**steps[place], "more": f"add = [{part}, {part}]"}, *steps[place + 1 :]]
    one, two = sums(charges, steps).walk, sums(charges, halved).walk

    assert one.vessels == two.vessels
    assert one.shares == two.shares
    assert seen(one) == seen(two)


@given(processes(), st.data())
def test_independent_work_in_another_order_changes_no_exposure(
    case: tuple[dict[str, Fraction], Steps], data: st.DataObject
) -> None:
    """Two neighbouring steps in different vessels, none of which takes from another, may change places."""
    charges, steps = case
    named = [{**step, "id": step["id"] or f"s-{i}"} for i, step in enumerate(steps)]
    free = [
        i
        for i in range(len(named) - 1)
        if named[i]["into"] != named[i + 1]["into"] and "what" in named[i]["more"] and "what" in named[i + 1]["more"]
        and named[i]["more"].split('"')[1] != named[i + 1]["more"].split('"')[1]
    ]  # fmt: skip
    if not free:
        return
    place = data.draw(st.sampled_from(free))
    swapped = [*named[:place], named[place + 1], named[place], *named[place + 2 :]]

    one, two = (seen(sums(charges, order).walk) for order in (named, swapped))
    # a charge with shares in both vessels sees both steps, and neither share sees them in another order
    assert {key: sorted(steps) for key, steps in one.items()} == {key: sorted(steps) for key, steps in two.items()}


@given(processes())
def test_nothing_is_exposed_before_it_is_there(case: tuple[dict[str, Fraction], Steps]) -> None:
    walk = sums(*case).walk

    for key, exposures in walk.exposures.items():
        assert exposures[0].step is walk.places[key][0]

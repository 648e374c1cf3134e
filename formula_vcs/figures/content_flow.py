"""How thick a vessel's content is at a step: by the step, else the spec, else the product's kind, else not known.

A correlation for turbulent flow is used only where the content is known to be thin enough.  A viscosity of the spec is
one that a viscometer gave, at about 1/s; it is turned to the tool's shear rate by a power law (Metzner, Otto, AIChE J.
3 (1957) 3-10) with the exponent of the product's form, and only where the whole product is in the vessel.
"""

from __future__ import annotations

from typing import Any, Final, NamedTuple

from formula_vcs.chemistry import substances
from formula_vcs.chemistry.substances import salt_of
from formula_vcs.figures.breakdown import Breakdown
from formula_vcs.figures.vessels import shares
from formula_vcs.model.equipment import Equipment
from formula_vcs.model.recipe import Step
from formula_vcs.process.mixing import mean_shear, regime, reynolds
from formula_vcs.process.simulate import StepState
from formula_vcs.toml.package_data import load

_WHOLE: Final = 0.98  # of the product in the vessel, from which on it is as thick as its spec; common practice
_MOST_SYRUP: Final = 0.5  # of polyols in water, above which a solution is no thin one any more; common practice
_THIN_KINDS: Final = frozenset(
    {"water", "alcohol", "polyol or glycol", "preserving alcohol or ether", "neutral active"}
)
_SYRUPS: Final = frozenset({"polyol or glycol", "sugar or sweetener"})


class Thickness(NamedTuple):
    """A viscosity of the spec: its upper end in Pa s at about 1/s, as it is written, and how the product's form thins.

    ``whole`` says that all of the product is in the vessel, so that it is as thick as that.
    """

    top: float
    written: str
    form: dict[str, Any] | None
    whole: bool


class Fluid(NamedTuple):
    """What is stirred: density in kg/m3, viscosity in Pa s at the tool, None where not known.

    ``thin`` says that it flows like water, with no viscosity wanted.  ``spec`` is what the spec says where the step
    says nothing; ``basis`` says where a viscosity that the step does not state is from, ``unknown`` why there is none.
    """

    density: float | None
    viscosity: float | None = None
    thin: bool = False
    spec: Thickness | None = None
    basis: str = ""
    unknown: str = ""


def impeller(device: Equipment) -> dict[str, Any]:
    """What an impeller's kind says: laminar_constant, metzner_otto, close, ribbon; empty for most kinds."""
    found: dict[str, Any] = load("flow")["impeller"].get(device.kind, {})
    return found


def constant(device: Equipment, name: str) -> float | None:
    """Give laminar_constant or metzner_otto: as the file states it, else by the kind of impeller."""
    stated = device.number(name)
    if stated is not None:
        return float(stated)
    by_kind = impeller(device).get(name)
    return None if by_kind is None else float(by_kind)


def content_at(sums: Breakdown, stage: StepState, density: float | None, share: float) -> Fluid:
    """Say how thick a content is at a step; ``share`` of the product (0 to 1) is in it."""
    stated = longest(stage.step, "viscosity")
    if stated is not None:
        return Fluid(density, stated, unknown="" if stated else "the step states a viscosity of nothing")
    recipe, flow = sums.formula.recipe, load("flow")
    spec = recipe.spec.get("viscosity")
    end = None if spec is None else spec.high or spec.low
    if end is not None and float(end.base) <= flow["thin"]["most"]:
        return Fluid(density, float(end.base), basis=f"viscosity of the spec, {spec}")
    if _is_thin(sums, stage):
        return Fluid(density, thin=True)
    if end is not None:
        form = flow["form"].get(recipe.get("form") or "")
        return Fluid(density, spec=Thickness(float(end.base), str(spec), form, share >= _WHOLE))
    thin = (recipe.product or "").casefold() in flow["thin"]["products"]
    return Fluid(density, thin=thin, unknown="the step states no viscosity, nor does the spec")


def at_tool(fluid: Fluid, device: Equipment, turns: float) -> Fluid:
    """A fluid with its viscosity at a tool that turns so often a second, where the spec has one to be thinned."""
    if fluid.spec is None:
        return fluid
    top, written, form, whole = fluid.spec
    factor = constant(device, "metzner_otto")
    words = f"the step states no viscosity; the spec has {written}"
    if form is None or factor is None:
        why = "how its form thins is not known" if form is None else f"'{device.id}' has no metzner_otto"
        return fluid._replace(unknown=f"{words}, and {why}")
    thinned = top * thinning(form, mean_shear(factor, turns))
    if not whole:
        so = _so(fluid, device, turns, thinned)
        return fluid._replace(unknown=f"{words}, and not all of the product is in yet{so}")
    said = f"viscosity of the spec, {written}, thinned to {thinned:.3g} Pa*s at the tool"
    return fluid._replace(viscosity=thinned, basis=f"{said} (n {form['n']:g}, common practice)")


def _so(fluid: Fluid, device: Equipment, turns: float, viscosity: float) -> str:
    """Say how a content would flow that is as thick as the spec."""
    if fluid.density is None or device.tool is None:
        return ""
    return f"; at that the flow is {regime(reynolds(fluid.density, turns, float(device.tool), viscosity))}"


def thinning(form: dict[str, Any], shear_rate: float) -> float:
    """What a viscosity at 1/s is multiplied by at a shear rate: (g/g0)^(n-1), g0 the end of Newtonian flow."""
    start = float(form.get("newtonian", 1.0))
    return 1.0 if shear_rate <= start else float((shear_rate / start) ** (form["n"] - 1))


def _is_thin(sums: Breakdown, stage: StepState) -> bool:
    """Say whether a content is water and what dissolves in it without thickening it."""
    whole = syrup = 0.0
    formula = sums.formula
    charges = {charge.key: charge.ingredient for charge in formula.recipe.charges}
    percent = shares(sums)
    for key, share in stage.contents.get(stage.vessel, {}).items():
        material = formula.ingredients.get(charges[key])
        if material is None or not material.substances:
            return False
        for inci, pct in material.contents:
            part = float(share * percent[key] * pct)
            whole += part
            if _dissolves(inci):
                continue
            kind = substances.kind_of(inci)
            if kind is None or kind.name not in _THIN_KINDS | _SYRUPS:
                return False
            syrup += part if kind.name in _SYRUPS else 0.0
    return whole > 0 and syrup <= _MOST_SYRUP * whole


def _dissolves(inci: str) -> bool:
    """Say whether a substance is an acid, a base or a salt that dissolves as a molecule."""
    forms = substances.forms_of(inci)
    if any(form.acid in ("carbomer", "chitosan") for form in forms):
        return False
    return bool(forms) or substances.strong_of(inci) is not None or salt_of(inci) is not None


def longest(step: Step, name: str) -> float | None:
    """The upper end of a step's range, else its lower one, in base units."""
    span = step.span(name)
    end = None if span is None else span.high or span.low
    return None if end is None else float(end.base)

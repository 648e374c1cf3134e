"""A move to another size in words: what is kept, what follows, what cannot be kept at once."""

from __future__ import annotations

from collections.abc import Iterator

from formula_vcs.figures.scale_up import BLEND, GAP, POWER, TIP_SPEED, Scaled, ScaledStep
from formula_vcs.reports.process import words as process_words

CAUTION = (
    "Estimates for the same shape and the same fluid; as of turbulent flow only in what is thin enough. They replace "
    "no trial batch at the new size."
)


def rpm(speed: float | None) -> str:
    """Write turns a second as rpm."""
    return "not known" if speed is None else f"{speed * 60:,.0f} rpm" if speed * 60 >= 10 else f"{speed * 60:.1f} rpm"


def quantities(step: ScaledStep) -> dict[str, tuple[float, float]]:
    """Give what is known on both sides: tip speed, gap shear, power per volume, blend time, energy, turnovers."""
    if step.after is None:
        return {}
    (n0, w0), (n1, w1) = step.before, step.after
    pairs = {
        TIP_SPEED: (n0.tip and n0.tip[1], n1.tip and n1.tip[1]),
        GAP: (n0.gap and n0.gap[1], n1.gap and n1.gap[1]),
        POWER: (w0.by_volume, w1.by_volume),
        BLEND: (w0.blend_time, w1.blend_time),
        "energy": (w0.energy, w1.energy),
        "turnovers": (w0.turnovers, w1.turnovers),
    }
    return {name: (old, new) for name, (old, new) in pairs.items() if old and new}


_UNITS = {TIP_SPEED: " m/s", GAP: " 1/s", POWER: " W/m3", "turnovers": ""}


def value(name: str, number: float) -> str:
    """Write one of the quantities with its unit."""
    if name == BLEND:
        return process_words.duration(number)
    if name == "energy":
        return process_words.energy(number)
    return f"{number:,.0f}{_UNITS[name]}" if number >= 1000 else f"{number:.3g}{_UNITS[name]}"


def lost(step: ScaledStep) -> Iterator[str]:
    """Say what the rule of a step does not keep."""
    for name, (old, new) in quantities(step).items():
        if abs(new / old - 1) > 0.005:
            verb = ("grow" if new > old else "fall") + ("" if name == "turnovers" else "s")
            yield f"{name} {verb} by {_times(new / old)}: {value(name, old)} to {value(name, new)}"
    if step.kept_power is not None and "energy" not in quantities(step):
        verb = "grows" if step.kept_power > 1 else "falls"
        yield f"energy {verb} by {_times(step.kept_power)}: the same power, which is not known, for each kg"


def _times(ratio: float) -> str:
    return f"{abs(ratio - 1) * 100:.0f} %" if ratio < 2 else f"a factor of {ratio:.2g}"


def fill(found: Scaled) -> Iterator[str]:
    """Say vessels that the new size fills under or over what they work with."""
    for vessel in dict.fromkeys(filling.vessel for filling in found.fillings):
        mine = [filling for filling in found.fillings if filling.vessel == vessel]
        machine = mine[0].machine
        stated = machine.working_range
        brim = None if machine.volume is None else float(machine.volume)
        low, high = (None, None) if stated is None else (None if end is None else float(end) for end in stated)
        most, least = max(mine, key=lambda f: f.volume), min(mine, key=lambda f: f.volume)
        name = f"'{vessel}' ({machine.title})"
        if brim is not None and most.volume > brim:
            yield f"{name}: step '{most.step}' has {_litres(most.volume)}, more than it holds, {_litres(brim)}"
        elif high is not None and most.volume > high:
            much = _litres(most.volume)
            yield f"{name}: step '{most.step}' has {much}, over its working range to {_litres(high)}"
        if low is not None and least.volume < low:
            few = _litres(least.volume)
            yield f"{name}: step '{least.step}' has {few}, under its working range from {_litres(low)}"


def _litres(volume: float) -> str:
    return f"{volume * 1000:,.0f} L"

"""Shear and mixing by numbers: formulas in SI units, each with its source.

HIM is Paul, Atiemo-Obeng, Kresta (eds.), Handbook of Industrial Mixing, Wiley 2004.  Speeds are in turns a second
(rpm / 60), lengths in m, viscosity in Pa s, density in kg/m3.  All of them are estimates of a machine, and none
replaces a trial in it.
"""

from __future__ import annotations

from math import exp, inf, log, pi
from typing import Final

GRAVITY: Final = 9.80665
LAMINAR: Final = 10.0
TURBULENT: Final = 10_000.0
# Np^(1/3) Re at which the two blend-time lines of Grenville and Nienow are used apart (HIM ch. 9)
BLEND_TURBULENT: Final = 6370.0
BLEND_LEAST: Final = 200.0


def tip_speed(diameter: float, speed: float) -> float:
    """Give the speed of the tool's outer edge in m/s: u = pi D N (HIM ch. 6, 8)."""
    return pi * diameter * speed


def gap_shear(diameter: float, speed: float, gap: float) -> float:
    """Give the nominal shear rate in a rotor-stator's gap in 1/s: u / h (HIM ch. 8); the slots shear as well."""
    return tip_speed(diameter, speed) / gap


def mean_shear(metzner_otto: float, speed: float) -> float:
    """Give the average shear rate in the vessel in 1/s: ks N (Metzner, Otto, AIChE J. 3 (1957) 3-10).

    For laminar flow, Re below about 10; used to about 30.
    """
    return metzner_otto * speed


def apparent_viscosity(consistency: float, index: float, shear_rate: float) -> float:
    """Give the viscosity of a power-law fluid at a shear rate in Pa s: K g^(n-1); only where K and n were fitted."""
    return float(consistency * shear_rate ** (index - 1))


def reynolds(density: float, speed: float, diameter: float, viscosity: float) -> float:
    """Give the impeller Reynolds number: rho N D^2 / mu (HIM ch. 6)."""
    return float(density * speed * diameter**2 / viscosity)


def power_law_reynolds(  # noqa: PLR0917 - six numbers make it
    density: float, speed: float, diameter: float, consistency: float, index: float, metzner_otto: float
) -> float:
    """Give the Reynolds number of a power-law fluid: rho N^(2-n) D^2 / (K ks^(n-1)) (Metzner, Otto 1957)."""
    return float(density * speed ** (2 - index) * diameter**2 / (consistency * metzner_otto ** (index - 1)))


def regime(number: float) -> str:
    """Name the flow by its Reynolds number: laminar below 10, turbulent above 10,000 with baffles (HIM ch. 6)."""
    if number < LAMINAR:
        return "laminar"
    return "turbulent" if number > TURBULENT else "transitional"


def froude(speed: float, diameter: float) -> float:
    """Give the Froude number N^2 D / g: vortex and drawn-in air rise with it in vessels without baffles (HIM ch. 6)."""
    return float(speed**2 * diameter / GRAVITY)


def power_number(laminar_constant: float | None, number: float | None, turbulent: float) -> float:
    """Give Np as the larger of Kp / Re and the turbulent value (Nagata, Mixing, Kodansha 1975).

    Good to about 15 % near the crossing.  Without Kp or Re it is the turbulent value.
    """
    if laminar_constant is None or number is None or number <= 0:
        return turbulent
    return max(laminar_constant / number, turbulent)


def power(np: float, density: float, speed: float, diameter: float) -> float:
    """Give the power in W: Np rho N^3 D^5 (HIM ch. 6).  Np is constant where the flow is turbulent."""
    return float(np * density * speed**3 * diameter**5)


def laminar_power(laminar_constant: float, viscosity: float, speed: float, diameter: float) -> float:
    """Give the power in W where Re is below 10: Kp mu N^2 D^3 (HIM ch. 6, 9)."""
    return float(laminar_constant * viscosity * speed**2 * diameter**3)


def specific_energy(watts: float, seconds: float, mass: float) -> float:
    """Give the energy put into each kg in J/kg: P t / m."""
    return watts * seconds / mass


def warm_up(energy: float, heat_capacity: float) -> float:
    """Give the warming in K without any loss of heat: e / cp, in J/kg and J/(kg K)."""
    return energy / heat_capacity


def pumping(flow_number: float, speed: float, diameter: float) -> float:
    """Give the flow through the impeller in m3/s: Nq N D^3, turbulent (HIM ch. 6)."""
    return float(flow_number * speed * diameter**3)


def turnovers(flow: float, seconds: float, volume: float) -> float:
    """Give how often the content goes through the tool: Q t / V (Baker, Chem. Eng. Sci. 48 (1993) 3829)."""
    return flow * seconds / volume


def never_through(number: float) -> float:
    """Give the share that never went through the tool after some turnovers of a well-mixed vessel: e^-n (Poisson)."""
    return exp(-number)


def blend_time(  # noqa: PLR0917 - as it stands in the handbook
    np: float,
    speed: float,
    diameter: float,
    vessel: float,
    height: float,
    density: float = 1000.0,
    viscosity: float | None = None,
) -> float | None:
    """Give the time in s to 95 % homogeneity (Grenville, Nienow, in HIM ch. 9); None where the flow is too slow for it.

    Turbulent: 5.2 T^1.5 H^0.5 / (Np^(1/3) N D^2).  Transitional, down to Re of about 200:
    (183 / (Np^(1/3) Re))^2 rho T^1.5 H^0.5 / mu.  Without a viscosity the turbulent line is taken.
    """
    root = np ** (1 / 3)
    size = vessel**1.5 * height**0.5
    if viscosity is None:
        return float(5.2 * size / (root * speed * diameter**2))
    number = reynolds(density, speed, diameter, viscosity)
    if number < BLEND_LEAST:
        return None
    if root * number > BLEND_TURBULENT:
        return float(5.2 * size / (root * speed * diameter**2))
    return float((183 / (root * number)) ** 2 * density * size / viscosity)


def blended_to(theta95: float, homogeneity: float) -> float:
    """Turn the time to 95 % into that to another homogeneity, 0 to 1: ln(1 - f) / ln(0.05) (HIM ch. 9)."""
    return inf if homogeneity >= 1 else theta95 * log(1 - homogeneity) / log(0.05)


def ribbon_constant(  # noqa: PLR0917 - as it stands in the handbook
    height: float, diameter: float, clearance: float, pitch: float, width: float, ribbons: int
) -> float:
    """Give Kp of a helical ribbon: 82.8 (h/D)(c/D)^-0.38 (p/D)^-0.35 (w/D)^0.20 nb^0.78, laminar.

    Rieger, Novak, Havelkova 1988, in HIM ch. 9; ``clearance`` is to the wall.
    """
    ratios = (clearance / diameter) ** -0.38 * (pitch / diameter) ** -0.35 * (width / diameter) ** 0.20
    return float(82.8 * height / diameter * ratios * float(ribbons) ** 0.78)


def ribbon_blend_time(constant: float, speed: float) -> float:
    """Give the blend time of a helical ribbon in s, laminar: 896,000 Kp^-1.69 / N (Grenville et al. 2001, HIM 9-6)."""
    return float(896_000 * constant**-1.69 / speed)

"""Splitting a mix into its parts, checking the ratio of one, dosing it, and stoichiometry.

Contract: volumes in m³, masses in kg, densities in kg/m³, ratios as plain figures in the order of
the parts, the base (part A) first. Assumption throughout: parts do not shrink or swell on mixing,
so their volumes add up to the mixed volume.

Source of splits and doses: conservation of mass and volume. Source of the stoichiometry: the
textbook definitions, equivalent weight = molar mass / reacting groups and phr = 100 AHEW / EEW
(turiya.nl, epoxy_calculations.html).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Literal, NamedTuple

from pourbook.errors import InputError
from pourbook.trade.measuring import LARGEST, require

Basis = Literal["volume", "mass"]

_LETTERS = "ABC"


class PartShare(NamedTuple):
    """One part of a mix.

    Attributes:
        volume: Volume of the part, m³.
        mass: Mass of the part, kg.
    """

    volume: float
    mass: float


def _require_parts(ratio: Sequence[float], densities: Sequence[float]) -> None:
    """Refuse a ratio and densities that describe no mix of one to three parts."""
    if not 1 <= len(ratio) <= len(_LETTERS):
        raise InputError(f"the ratio has {len(ratio)} parts", "give 1 to 3 parts")
    if len(densities) != len(ratio):
        raise InputError("not every part has its density", "give one density a part")
    if all(0.0 < figure <= LARGEST for figure in (*ratio, *densities)):
        return
    for letter, part, density in zip(_LETTERS, ratio, densities, strict=False):
        require("above 0", **{f"ratio {letter}": part, f"density {letter}": density})


def ratio_by_volume(ratio: Sequence[float], densities: Sequence[float]) -> list[float]:
    """Return a ratio by mass as one by volume; the first figure stays as it is.

    Args:
        ratio: 1 to 3 parts by mass, each above 0.
        densities: Density of each part, kg/m³, above 0.

    Raises:
        InputError: A figure is out of range, or the number of parts or densities is.

    Example:
        >>> ratio_by_volume([100.0, 45.0], [1200.0, 900.0])
        [100.0, 60.0]
    """
    _require_parts(ratio, densities)
    return [part * (densities[0] / rho) for part, rho in zip(ratio, densities, strict=True)]


def split(
    volume: float, ratio: Sequence[float], densities: Sequence[float], basis: Basis
) -> list[PartShare]:
    """Return volume and mass of each part of a mixed volume.

    Args:
        volume: Mixed volume, m³, above 0.
        ratio: 1 to 3 parts, each above 0.
        densities: Density of each part, kg/m³, above 0.
        basis: Whether the ratio is by ``volume`` or by ``mass``.

    Returns:
        One share a part, in the order of the ratio; their volumes add up to the mixed volume.

    Raises:
        InputError: A figure is out of range, the number of parts or densities is, or the basis is
            not known.

    Example:
        >>> split(3.0, [2.0, 1.0], [1150.0, 1000.0], "volume")
        [PartShare(volume=2.0, mass=2300.0), PartShare(volume=1.0, mass=1000.0)]
    """
    require("above 0", volume=volume)
    by_volume = _as_volumes(ratio, densities, basis)
    whole = math.fsum(by_volume)
    volumes = [volume * part / whole for part in by_volume]
    return [PartShare(v, v * rho) for v, rho in zip(volumes, densities, strict=True)]


def _as_volumes(ratio: Sequence[float], densities: Sequence[float], basis: Basis) -> list[float]:
    """Return a checked ratio by volume, whichever way it was stated."""
    if basis == "mass":
        return ratio_by_volume(ratio, densities)
    if basis == "volume":
        _require_parts(ratio, densities)
        return list(ratio)
    raise InputError(f"no ratio by {basis!r}", "choose volume or mass")


def mixed_density(ratio: Sequence[float], densities: Sequence[float], basis: Basis) -> float:
    """Return the density of the mix, kg/m³.

    Args:
        ratio: 1 to 3 parts, each above 0.
        densities: Density of each part, kg/m³, above 0.
        basis: Whether the ratio is by ``volume`` or by ``mass``.

    Raises:
        InputError: As for :func:`split`.

    Example:
        >>> mixed_density([1.0, 1.0], [1200.0, 1000.0], "volume")
        1100.0
    """
    return math.fsum(share.mass for share in split(1.0, ratio, densities, basis))


def off_ratio(
    actual_masses: Sequence[float],
    ratio: Sequence[float],
    densities: Sequence[float],
    basis: Basis,
) -> list[float]:
    """Return how far each part after the base is off what the base it met called for.

    Args:
        actual_masses: Mass poured of each part, kg; the base above 0, the others >= 0.
        ratio: 1 to 3 parts, each above 0.
        densities: Density of each part, kg/m³, above 0.
        basis: Whether the ratio is by ``volume`` or by ``mass``.

    Returns:
        One fraction a part after the base: 0.05 is 5 % too much, -1 is left out.

    Raises:
        InputError: A figure is out of range, a part has no mass, or as for :func:`split`.

    Example:
        >>> off_ratio([2.0, 1.25], [2.0, 1.0], [1000.0, 1000.0], "mass")
        [0.25]
    """
    called_for = split(1.0, ratio, densities, basis)
    if len(actual_masses) != len(called_for):
        raise InputError("not every part has its mass", "give one mass a part")
    require("above 0", mass_A=actual_masses[0])
    poured = dict(zip(_LETTERS[1:], actual_masses[1:], strict=False))
    require("0 or more", **{f"mass {letter}": mass for letter, mass in poured.items()})
    scale = actual_masses[0] / called_for[0].mass
    return [
        mass / (share.mass * scale) - 1
        for mass, share in zip(actual_masses[1:], called_for[1:], strict=True)
    ]


def dose_share(amount: float, share: float) -> float:
    """Return a dose stated as a share of a mixed amount, in the unit of the amount.

    Args:
        amount: Mixed mass, kg, or volume, m³, >= 0.
        share: Dose for each 1 of the amount, >= 0; above 1 for heavy fillers.

    Raises:
        InputError: A figure is below 0.

    Example:
        >>> dose_share(4.0, 0.0625)
        0.25
    """
    require("0 or more", amount=amount, dose=share)
    return amount * share


def dose_per_batch(dose: float, batches: int) -> float:
    """Return a dose stated for each batch, all batches together, in the unit of the dose.

    Args:
        dose: Dose for one batch, kg or m³, >= 0.
        batches: Number of batches, >= 0.

    Raises:
        InputError: A figure is below 0.

    Example:
        >>> dose_per_batch(0.25, 3)
        0.75
    """
    require("0 or more", dose=dose, batches=batches)
    return dose * batches


def dose_per_area(dose: float, area: float) -> float:
    """Return a dose stated for each square metre, over the whole area.

    Args:
        dose: Dose for each square metre, kg/m² or m³/m², >= 0.
        area: Area, m², >= 0.

    Raises:
        InputError: A figure is below 0.

    Example:
        >>> dose_per_area(0.5, 3.0)
        1.5
    """
    require("0 or more", dose=dose, area=area)
    return dose * area


def thinner_fraction(thinner: float, mixed: float) -> float:
    """Return thinner as a fraction of the volume it is added to, as film formulas take it.

    Args:
        thinner: Volume of thinner, m³, >= 0.
        mixed: Volume it is added to, without it, m³, above 0.

    Raises:
        InputError: A figure is out of range.

    Example:
        >>> thinner_fraction(0.25, 2.0)
        0.125
    """
    require("0 or more", thinner=thinner)
    require("above 0", volume=mixed)
    return thinner / mixed


def ahew(molar_mass: float, active_hydrogens: float) -> float:
    """Return the amine hydrogen equivalent weight, g/eq: M / active hydrogens.

    Args:
        molar_mass: Molar mass of the amine, g/mol, above 0.
        active_hydrogens: Hydrogens on nitrogen in a molecule, above 0; a mean may be broken.

    Raises:
        InputError: A figure is not above 0.

    Example:
        >>> ahew(100.0, 4)
        25.0
    """
    require("above 0", molar_mass=molar_mass, active_hydrogens=active_hydrogens)
    return molar_mass / active_hydrogens


def eew(molar_mass: float, epoxides: float) -> float:
    """Return the epoxide equivalent weight, g/eq: M / epoxide groups.

    Args:
        molar_mass: Molar mass of the resin, g/mol, above 0.
        epoxides: Epoxide groups in a molecule, above 0; a mean may be broken.

    Raises:
        InputError: A figure is not above 0.

    Example:
        >>> eew(380.0, 2)
        190.0
    """
    require("above 0", molar_mass=molar_mass, epoxide_groups=epoxides)
    return molar_mass / epoxides


def phr(ahew: float, eew: float) -> float:
    """Return the hardener for each hundred of resin by mass: 100 AHEW / EEW.

    Args:
        ahew: Amine hydrogen equivalent weight of the hardener, g/eq, above 0.
        eew: Epoxide equivalent weight of the resin, g/eq, above 0.

    Raises:
        InputError: A figure is not above 0.

    Example:
        >>> phr(50.0, 200.0)
        25.0
    """
    require("above 0", AHEW=ahew, EEW=eew)
    return 100 * ahew / eew

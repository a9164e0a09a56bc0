"""Film thickness, spreading rate, notch films, and what is lost on the way to the film.

Contract: lengths and films in m, areas in m², volumes in m³, spreading rates in m² coated for each
m³ of mixed coating, shares as fractions of 1. Losses divide what is needed, they never multiply it.

Symbols: S spreading rate, VS volume solids, DFT dry film, WFT wet film, p thinner as a fraction of
the volume it is added to, L loss.

Sources:
    Spreading rate and wet from dry film: MIL-HDBK-1110 (30 Sep 1996), par 2.1.5 (its 600 for 50 %
    solids at 1 mil is a misprint of 800). Practical spreading rate as theoretical times (1 - L):
    the wording of ISO 12944, from memory. Notch films: plane geometry of the notch.
"""

from __future__ import annotations

import math

from pourbook.errors import InputError
from pourbook.records import dataclass
from pourbook.trade.measuring import require

UPRIGHT = math.pi / 2


def theoretical_spread(volume_solids: float, dry_film: float) -> float:
    """Return the area one unit of volume covers with nothing lost, m²/m³: S = VS / DFT.

    Args:
        volume_solids: Volume solids fraction of the mix, above 0, up to 1.
        dry_film: Dry film, m, above 0.

    Raises:
        InputError: A figure is out of range.

    Example:
        >>> theoretical_spread(0.5, 0.0005)
        1000.0
    """
    require("up to 100 %", volume_solids=volume_solids)
    require("above 0", dry_film=dry_film)
    return volume_solids / dry_film


def practical_spread(theoretical: float, loss: float) -> float:
    """Return the area one unit of volume covers when a share of it is lost, m²/m³: S (1 - L).

    The volume to mix is area / practical spread, so the loss divides.

    Args:
        theoretical: Theoretical spreading rate, m²/m³, above 0.
        loss: Share of what is mixed that is lost, 0 to below 1.

    Raises:
        InputError: A figure is out of range.

    Example:
        >>> practical_spread(1000.0, 0.25)
        750.0
    """
    require("above 0", spread=theoretical)
    require("below 100 %", loss=loss)
    return theoretical * (1 - loss)


def dry_from_wet(wet: float, volume_solids: float, thinner: float = 0.0) -> float:
    """Return the dry film a wet film leaves, m: DFT = WFT VS / (1 + p).

    Args:
        wet: Wet film, m, above 0.
        volume_solids: Volume solids fraction before thinning, above 0, up to 1.
        thinner: Thinner added, as a fraction of the volume it is added to, >= 0.

    Raises:
        InputError: A figure is out of range.

    Example:
        >>> dry_from_wet(0.001, 0.5)
        0.0005
    """
    require("above 0", wet_film=wet)
    require("up to 100 %", volume_solids=volume_solids)
    require("0 or more", thinner=thinner)
    return wet * volume_solids / (1 + thinner)


def wet_from_dry(dry: float, volume_solids: float, thinner: float = 0.0) -> float:
    """Return the wet film that leaves a dry film, m: WFT = DFT (1 + p) / VS.

    Args:
        dry: Dry film, m, above 0.
        volume_solids: Volume solids fraction before thinning, above 0, up to 1.
        thinner: Thinner added, as a fraction of the volume it is added to, >= 0.

    Raises:
        InputError: A figure is out of range.

    Example:
        >>> wet_from_dry(0.0005, 0.5)
        0.001
    """
    require("above 0", dry_film=dry)
    require("up to 100 %", volume_solids=volume_solids)
    require("0 or more", thinner=thinner)
    return dry * (1 + thinner) / volume_solids


def film_from_mass(mass_per_area: float, density: float) -> float:
    """Return the wet film a mass on each square metre makes, m.

    Args:
        mass_per_area: Mass on the surface, kg/m², above 0.
        density: Density of the mix, kg/m³, above 0.

    Raises:
        InputError: A figure is not above 0.

    Example:
        >>> film_from_mass(2.0, 1000.0)
        0.002
    """
    require("above 0", mass_per_area=mass_per_area, density=density)
    return mass_per_area / density


def _notch_film(section: float, pitch: float, transfer: float, lean: float) -> float:
    """Return the film one notch section a pitch leaves once its ridges level, m."""
    require("up to 100 %", transfer=transfer)
    require("above 0", lean=lean)
    if lean > UPRIGHT * (1 + 1e-9):  # room for the rounding of converted degrees
        raise InputError("the trowel leans past upright", "type its angle from the floor")
    return transfer * math.sin(lean) * section / pitch


def notch_film_square(
    width: float, depth: float, gap: float, transfer: float = 1.0, lean: float = UPRIGHT
) -> float:
    """Return the film a square-notched trowel leaves, m: w d / (w + gap).

    An upper bound while ``transfer`` is 1: part of a notch stays empty or drags back.

    Args:
        width: Width of a notch, m, above 0.
        depth: Depth of a notch, m, above 0.
        gap: Width of the tooth between notches, m, above 0.
        transfer: Share of the notch that stays on the surface, above 0, up to 1.
        lean: Angle of the trowel from the floor, radians, above 0, up to a right angle; the height
            of the notch is multiplied by its sine.

    Raises:
        InputError: A figure is out of range.

    Example:
        >>> notch_film_square(0.006, 0.006, 0.006)
        0.003
    """
    require("above 0", notch_width=width, notch_depth=depth, tooth_width=gap)
    return _notch_film(width * depth, width + gap, transfer, lean)


def notch_film_v(
    width: float, depth: float, pitch: float, transfer: float = 1.0, lean: float = UPRIGHT
) -> float:
    """Return the film a V-notched trowel leaves, m: (w d / 2) / pitch.

    Args:
        width: Width of a notch at its mouth, m, above 0.
        depth: Depth of a notch, m, above 0.
        pitch: Distance from one notch to the next, centre to centre, m, >= width.
        transfer: Share of the notch that stays on the surface, above 0, up to 1.
        lean: Angle of the trowel from the floor, radians, above 0, up to a right angle.

    Raises:
        InputError: A figure is out of range, or the notches overlap.

    Example:
        >>> notch_film_v(0.004, 0.005, 0.005)
        0.002
    """
    require("above 0", notch_width=width, notch_depth=depth, pitch=pitch)
    _refuse_overlap(width, pitch)
    return _notch_film(width * depth / 2, pitch, transfer, lean)


def notch_film_u(
    width: float, depth: float, pitch: float, transfer: float = 1.0, lean: float = UPRIGHT
) -> float:
    """Return the film a U-notched trowel leaves, m: (w (d - w/2) + pi w² / 8) / pitch.

    Args:
        width: Width of a notch, m, above 0; its bottom is a half circle of this diameter.
        depth: Depth of a notch to the bottom of the half circle, m, >= half the width.
        pitch: Distance from one notch to the next, centre to centre, m, >= width.
        transfer: Share of the notch that stays on the surface, above 0, up to 1.
        lean: Angle of the trowel from the floor, radians, above 0, up to a right angle.

    Raises:
        InputError: A figure is out of range, the notches overlap, or are too shallow for a U.

    Example:
        >>> round(notch_film_u(0.004, 0.004, 0.008), 6)
        0.001785
    """
    require("above 0", notch_width=width, notch_depth=depth, pitch=pitch)
    _refuse_overlap(width, pitch)
    if depth < width / 2:
        raise InputError("the notch is too shallow for a U", "check its depth and width")
    section = width * (depth - width / 2) + math.pi * width**2 / 8
    return _notch_film(section, pitch, transfer, lean)


def _refuse_overlap(width: float, pitch: float) -> None:
    """Refuse notches wider than the distance from one to the next."""
    if pitch < width:
        raise InputError("the notches overlap", "type the distance from notch to notch as pitch")


@dataclass(frozen=True)
class MixedVolume:
    """What has to be mixed for one layer, part by part, all in m³.

    Attributes:
        net: What stays as film.
        take_up: What a porous surface drinks.
        edge_loss: What runs off along the edges.
        percent_loss: What a percentage of loss adds.
        batch_loss: What buckets and tools keep, all batches together.

    Example:
        >>> MixedVolume(4.0, 1.0, 0.5, 0.25, 0.25).mixed
        6.0
    """

    net: float
    take_up: float
    edge_loss: float
    percent_loss: float
    batch_loss: float

    @property
    def mixed(self) -> float:
        """The sum of the parts."""
        return self.net + self.take_up + self.edge_loss + self.percent_loss + self.batch_loss


def mixed_volume(
    net: float,
    *,
    area: float = 0.0,
    take_up: float = 0.0,
    edge_run: float = 0.0,
    edge_loss: float = 0.0,
    run_off: float = 0.0,
    loss: float = 0.0,
    batches: int = 0,
    batch_loss: float = 0.0,
) -> MixedVolume:
    """Return what has to be mixed so that the net volume stays on the surface.

    The percentage is of what is mixed before the batch losses, so needed volume is divided by
    (1 - loss).

    Args:
        net: Volume of the film itself, m³, >= 0.
        area: Area that drinks, m², >= 0.
        take_up: What each square metre drinks, m³/m², >= 0.
        edge_run: Length of edge the coating runs off, m, >= 0.
        edge_loss: What runs off each metre of edge, m³/m, >= 0.
        run_off: What runs off besides, m³, >= 0, such as what a vertical does not hold.
        loss: Share lost of what is mixed, 0 to below 1.
        batches: Number of batches, >= 0.
        batch_loss: What bucket and tools keep of each batch, m³, >= 0.

    Raises:
        InputError: A figure is out of range.

    Example:
        >>> mixed_volume(3.0, loss=0.25, batches=2, batch_loss=0.5)
        MixedVolume(net=3.0, take_up=0.0, edge_loss=0.0, percent_loss=1.0, batch_loss=1.0)
    """
    require("0 or more", net_volume=net, area=area, take_up=take_up, edge_run=edge_run)
    require("0 or more", edge_loss=edge_loss, batches=batches, batch_loss=batch_loss)
    require("0 or more", run_off=run_off)
    require("below 100 %", loss=loss)
    drunk, off = area * take_up, edge_run * edge_loss + run_off
    return MixedVolume(
        net=net,
        take_up=drunk,
        edge_loss=off,
        percent_loss=(net + drunk + off) * loss / (1 - loss),
        batch_loss=batches * batch_loss,
    )

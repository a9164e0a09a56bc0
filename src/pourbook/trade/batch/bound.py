"""How large one batch may be, and how a batch is divided into colour cups.

Contract: pure functions on SI floats: m3, m2/s, m, s. Refusals are
:class:`pourbook.errors.InputError`.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from fractions import Fraction
from typing import NamedTuple

from pourbook.errors import InputError
from pourbook.trade.batch.grid import checked, not_negative

_DIGITS = 53  # binary digits of a float


class BatchLimit(NamedTuple):
    """The largest batch and what sets it.

    Args:
        volume: Largest mixed volume of a batch, m3.
        binds: "bucket", "safe mix", "area" or "pot life": the smallest; of equal ones the first.
        spreadable: What the crew can spread before the mix sets, m3.

    Raises: nothing. Validity: any. Source: none, it is a record.

    Example:
        >>> BatchLimit(0.01, "bucket", 0.02).binds
        'bucket'
    """

    volume: float
    binds: str
    spreadable: float


def batch_limit(
    bucket: float,
    safe_mass_volume: float | None,
    application_rate: float,
    film: float,
    *,
    pot_life: float,
    mixing_time: float,
    hands: int = 1,
    most_area: float | None = None,
    share: float = 1.0,
) -> BatchLimit:
    """Return the smallest of usable bucket, safe mix, area of a batch and what is spread in time.

    What can be spread is hands x application rate x wet film x (share x pot life - mixing time).

    Args:
        bucket: Usable volume of the bucket, m3.
        safe_mass_volume: Volume of the largest mix that does not overheat, m3; None when the
            product states none.
        application_rate: Area one pair of hands spreads in a second, m2/s.
        film: Wet film, m.
        pot_life: Pot life of the mix at the temperature of the site, s.
        mixing_time: Time from the first contact of the parts until spreading begins, s; zero or
            more: mixing, carrying, dividing into cups.
        hands: How many people spread, 1 or more.
        most_area: Most area a batch may coat, m2; None for no such limit.
        share: The part of the pot life a batch is planned within, above 0 up to 1.

    Returns:
        A :class:`BatchLimit`.

    Raises:
        InputError: A number is not above zero, the share is above 1, the time planned with does not
            exceed the mixing time, or hands is not a whole number from 1.

    Validity: one steady application rate; everything is spread within the share of
    the pot life. Source: the project's own rule (design.md, "Batches"): volume is rate x film x
    time.

    Example:
        >>> batch_limit(0.010, None, 0.002, 0.003, pot_life=1200, mixing_time=300).binds
        'pot life'
    """
    size = checked(bucket, "the bucket")
    rate = checked(application_rate, "the application rate")
    wet = checked(film, "the wet film")
    life = checked(pot_life, "the pot life")
    mixing = not_negative(mixing_time, "the mixing time")
    if isinstance(hands, bool) or not isinstance(hands, int) or hands < 1:
        raise InputError("the number of hands is not a whole number from 1", "type 1, 2, 3 ...")
    part = checked(share, "the share of the pot life")
    if part > 1:
        raise InputError("the share of the pot life is above 1", "type a share up to 100 %")
    if part * life <= mixing:
        lasts = f"{part * 100:.3g} % of " if part < 1 else ""
        raise InputError(
            f"{lasts}the pot life of {life / 60:.4g} min is over after {mixing / 60:.4g} min of"
            " mixing",
            "pour at a cooler hour, mix a smaller amount, or choose a slower product",
        )
    spreadable = hands * rate * wet * (part * life - mixing)
    limits = [(size, "bucket")]
    if safe_mass_volume is not None:
        limits.append((checked(safe_mass_volume, "the largest safe mix"), "safe mix"))
    if most_area is not None:
        limits.append((checked(most_area, "the most area of a batch") * wet, "area"))
    limits.append((spreadable, "pot life"))
    volume, binds = min(limits, key=lambda one: one[0])
    return BatchLimit(volume, binds, spreadable)


def cups(volume: float, shares: Sequence[float]) -> tuple[float, ...]:
    """Divide a volume into cups by share so that the cups add up to it exactly.

    The volume is a whole number of float steps; every cup gets a whole number of them, and the last
    cup with a share takes the remainder. So any order of adding gives the volume back, to the bit.

    Args:
        volume: Volume to divide, m3, above zero.
        shares: Shares, zero or more, in any one unit; they need not add up to 1 or 100.

    Returns:
        One volume a share, m3; a share of zero gives zero.

    Raises:
        InputError: The volume is not above zero, a share is negative or no number, or all are zero.

    Validity: each cup is its exact share to within 2**-52 of the volume for each share given.
    Source: exact rational arithmetic, worked here.

    Example:
        >>> parts = cups(0.1, [1, 1, 1])
        >>> sum(parts) == 0.1
        True
    """
    whole = checked(volume, "the volume to divide")
    exact = [Fraction(not_negative(share, "a colour's share")) for share in shares]
    total = sum(exact)
    if not total:
        raise InputError("no colour has a share", "give at least one colour a share above 0")
    step = max(math.frexp(whole)[1] - _DIGITS, -1074)
    units = int(Fraction(whole) / Fraction(2) ** step)
    counts = [int(units * share / total) for share in exact]
    last = max(at for at, share in enumerate(exact) if share)
    counts[last] += units - sum(counts)
    return tuple(math.ldexp(count, step) for count in counts)

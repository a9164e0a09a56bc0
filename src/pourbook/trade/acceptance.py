"""May a film stand? Readings against the nominal film, and reading a notched wet film gauge.

Contract: films in m, shares as fractions of 1. The rules were made for dry films; the same
arithmetic serves wet films read while the coat can still be mended, with the wet film that leaves
the nominal dry one (:func:`pourbook.trade.film.wet_from_dry`) as the nominal film. A reading
exactly at a limit passes. Which rule holds is the product's or the contract's to say.

Sources: ISO 19840 as a Dutch summary of NEN-ISO 19840:2005 tells it (vereniging-qualion.nl, read
second-hand); IMO resolution MSC.215(82) as
staging.shipcalculators.com/docs/formulas/hull-pspc-ndft tells it (read second-hand); the notched
gauge, MIL-HDBK-1110 (30 Sep 1996) par 10.3.9 and Procedure 12 (read).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Literal

from pourbook.errors import BlankError, InputError
from pourbook.records import dataclass
from pourbook.trade.measuring import require

Code = Literal["ok", "far too thin", "too often thin", "thin on average", "too thick"]

THINNEST_NOMINAL = 40e-6
"""ISO 19840 is not for nominal dry films under 40 µm (genorma.com iso:proj:59523, read)."""

_SLACK = 1e-9  # relative: forgives the last bits of a unit change


@dataclass(frozen=True)
class FilmRule:
    """How far readings may lie under and over the nominal film.

    Attributes:
        name: What the rule is called.
        floor: Least a single reading may be, as a share of the nominal film.
        thin_share: Share of the readings that may lie from the floor to below the nominal film.
        inclusive: Whether exactly that share still passes.
        mean_holds: Whether the mean must reach the nominal film.
        ceiling: Most a reading may be, as a multiple of the nominal film; None for no limit.
    """

    name: str
    floor: float
    thin_share: float
    inclusive: bool
    mean_holds: bool
    ceiling: float | None


ISO_19840 = FilmRule("ISO 19840", 0.8, 0.2, False, True, 3.0)
"""Mean at least nominal; no reading under 80 %; fewer than 20 % from 80 to 100 %; most 3 times the
nominal film unless the product says otherwise (3 is common practice told with the summary)."""

TEN_PER_CENT = FilmRule("MSC.215(82)", 0.9, 0.1, True, False, None)
"""At most 10 % of the readings under the nominal film, and none under 90 % of it."""


@dataclass(frozen=True)
class FilmVerdict:
    """Whether a film is accepted, and the counts that say why.

    Attributes:
        accepted: True where every part of the rule holds.
        code: ``ok``, or the first part that fails: ``far too thin``, ``too often thin``, ``thin on
            average``, ``too thick``.
        reason: The same in words with its counts.
        readings: How many readings there are.
        mean: Their mean, m.
        least: The thinnest, m.
        most: The thickest, m.
        under: How many lie under the floor.
        thin: How many lie from the floor to below the nominal film.
        over: How many lie over the ceiling.
    """

    accepted: bool
    code: Code
    reason: str
    readings: int
    mean: float
    least: float
    most: float
    under: int
    thin: int
    over: int


def _percent(share: float) -> str:
    """Return a share as a percentage."""
    return f"{share * 100:g} %"


def judge_films(
    readings: Sequence[float],
    nominal: float,
    rule: FilmRule = ISO_19840,
    most: float | None = None,
) -> FilmVerdict:
    """Judge film readings against a nominal film.

    Args:
        readings: Films read, m, each 0 or more, at least one.
        nominal: Nominal film, m, above 0; under ISO 19840 at least 40 µm.
        rule: :data:`ISO_19840` or :data:`TEN_PER_CENT`.
        most: Thickest film the product allows, m, at least the nominal; it takes the place of the
            rule's own ceiling.

    Returns:
        The verdict; where more than one part fails, the first of the order of ``code``.

    Raises:
        InputError: No reading, a figure out of range, or the thickest below the nominal film.

    Example:
        >>> verdict = judge_films([0.00125] * 9 + [0.00085], 0.001)
        >>> verdict.code, verdict.thin, verdict.under
        ('ok', 1, 0)
        >>> judge_films([0.00125] * 9 + [0.00075], 0.001).reason
        '1 of 10 readings is under 80 % of the nominal film'
    """
    require("above 0", nominal_film=nominal)
    if rule is ISO_19840 and nominal < THINNEST_NOMINAL * (1 - _SLACK):
        raise InputError(
            "the nominal film is under 40 µm (1.6 mil), where ISO 19840 does not apply",
            "judge it by the rule the contract names",
        )
    if not readings:
        raise BlankError("there is no film reading", "type at least one reading")
    require("0 or more", **{f"reading {i}": film for i, film in enumerate(readings, 1)})
    if most is not None and most < nominal:
        raise InputError("the thickest film is below the nominal film", "swap the two films")
    ceiling = most if most is not None else rule.ceiling and rule.ceiling * nominal
    floor, full = rule.floor * nominal * (1 - _SLACK), nominal * (1 - _SLACK)
    count, mean = len(readings), math.fsum(readings) / len(readings)
    under = sum(film < floor for film in readings)
    thin = sum(floor <= film < full for film in readings)
    over = 0 if ceiling is None else sum(film > ceiling * (1 + _SLACK) for film in readings)
    # counted on whole readings, so that 2 of 10 is 20 % whatever the last bit of 0.2 says
    low = under + thin if rule.inclusive else thin
    allowed = rule.thin_share * count
    often = low > allowed + _SLACK if rule.inclusive else low > allowed - _SLACK and low > 0
    code, reason = _why(rule, count, under, low, over, often, mean < full)
    return FilmVerdict(
        code == "ok",
        code,
        reason,
        count,
        mean,
        min(readings),
        max(readings),
        under,
        thin,
        over,
    )


def _why(
    rule: FilmRule, count: int, under: int, low: int, over: int, often: bool, mean_low: bool
) -> tuple[Code, str]:
    """Return the first part of a rule that fails, and the words for it."""
    if under:
        of = f"{under} of {count} readings {'is' if under == 1 else 'are'}"
        return "far too thin", f"{of} under {_percent(rule.floor)} of the nominal film"
    if often:
        limit = f"{'at most' if rule.inclusive else 'fewer than'} {_percent(rule.thin_share)}"
        return "too often thin", f"{low} of {count} readings under the nominal film, {limit} may be"
    if rule.mean_holds and mean_low:
        return "thin on average", "the mean of the readings is under the nominal film"
    if over:
        of = f"{over} of {count} readings {'is' if over == 1 else 'are'}"
        return "too thick", f"{of} over the thickest film allowed"
    return "ok", f"{count} readings meet {rule.name}"

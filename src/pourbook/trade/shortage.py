"""The chance that what is bought of a coating does not do, from learned losses and their scatter.

Contract: volumes in m³ (or any one unit), losses as fractions, pure functions. What must stay on
the surfaces is known; what is lost of the mix is not: it follows the distribution of the next job
that :mod:`pourbook.trade.learning` gives, Student's t on the logit scale, with the shop's own
figure in it while jobs are few. The mix runs short when kept / (1 - loss) is more than there is.

Student's distribution by the incomplete beta function, NIST Digital Library of Mathematical
Functions 8.17, from memory; checked against scipy.
"""

from __future__ import annotations

import math

from pourbook.trade.learning import Learned
from pourbook.trade.measuring import require

_NEAR = 1e-15
_MOST_TERMS = 10_000
"""Of the continued fraction, which is worked out from its top; some dozens do as a rule."""


def student_below(x: float, freedom: float) -> float:
    """Return the chance that Student's t stays below ``x``.

    Outside of -x to x lies I(f / (f + x^2); f / 2, 1 / 2), the incomplete beta function.

    Args:
        x: Any figure.
        freedom: Degrees of freedom, from 1.

    Raises:
        InputError: The degrees of freedom are below 1.

    Example:
        >>> student_below(0.0, 4.0), round(student_below(2.131847, 4.0), 6)
        (0.5, 0.95)
    """
    require("0 or more", degrees_of_freedom_above_1=freedom - 1.0)
    across, along = math.sqrt(freedom), math.hypot(x, math.sqrt(freedom))
    outside = _incomplete_beta((across / along) ** 2, (x / along) ** 2, freedom / 2, 0.5)
    return 1.0 - outside / 2 if x > 0 else outside / 2


def _incomplete_beta(x: float, rest: float, a: float, b: float) -> float:
    """Return I(x; a, b); ``rest`` is 1 - x, as near as it is known."""
    if not x or not rest:
        return 1.0 if x else 0.0
    if x > (a + 1) / (a + b + 2):  # where the other side of it is found sooner
        return 1.0 - _incomplete_beta(rest, x, b, a)
    log_beta = math.lgamma(a) + math.lgamma(b) - math.lgamma(a + b)
    front = math.exp(a * math.log(x) + b * math.log(rest) - log_beta) / a
    below = 1 / (1 - (a + b) * x / (a + 1))
    found, above, change = below, 1.0, 0.0
    for m in range(1, _MOST_TERMS):
        even = m * (b - m) / ((a + 2 * m - 1) * (a + 2 * m))
        odd = -(a + m) * (a + b + m) / ((a + 2 * m) * (a + 2 * m + 1))
        for term in (even * x, odd * x):
            below, above = 1 / (1 + term * below), 1 + term / above
            change = below * above
            found *= change
        if abs(change - 1) < _NEAR:
            break
    return front * found


def chance_short(kept: float, have: float, learned: Learned) -> float:
    """Return the chance that the mix runs short.

    Args:
        kept: What stays on the surfaces, above 0.
        have: What there is to mix, 0 and more, in the same unit.
        learned: What is known of the loss of the next job.

    Raises:
        InputError: A figure is out of range, or what was learned is no loss.

    Example:
        >>> from pourbook.trade.learning import Prior, learn
        >>> known = learn("loss", [], Prior(typical=0.10, spread=0.3, worth=4.0))
        >>> [round(chance_short(9.0, have, known), 3) for have in (9.0, 10.0, 10.676, 12.0)]
        [1.0, 0.5, 0.099, 0.015]
    """
    require("above 0", kept=kept)
    require("0 or more", have=have)
    if have <= kept:
        return 1.0
    scaled = math.log((have - kept) / kept)  # the logit of the loss that uses up all there is
    return student_below((learned.level - scaled) / learned.width, learned.freedom)

"""The chance that what is bought of a coating does not do, from learned losses and their scatter.

Contract: volumes in m³ (or any one unit), losses as fractions, pure functions. What must stay on
the surfaces is known; what is lost of the mix is not: it follows the distribution of the next job
that :mod:`pourbook.trade.learning` gives, Student's t on the logit scale, with the shop's own
figure in it while jobs are few. The mix runs short when kept / (1 - loss) is more than there is.

Student's distribution: its density, a textbook result, integrated here by Simpson's rule on the
angle arctan(x / sqrt(f)), on which it is smooth and bounded; checked against scipy.
"""

from __future__ import annotations

import math

from pourbook.trade.learning import Learned
from pourbook.trade.measuring import require

_STEPS = 2000


def student_below(x: float, freedom: float) -> float:
    """Return the chance that Student's t stays below ``x``.

    With x = sqrt(f) tan(a) the density becomes c cos(a)^(f - 1), c the constant that makes it 1.

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
    end = math.atan(abs(x) / math.sqrt(freedom))
    log_constant = math.lgamma((freedom + 1) / 2) - math.lgamma(freedom / 2)
    constant = math.exp(log_constant) / math.sqrt(math.pi)
    step = end / _STEPS
    power = freedom - 1.0
    odd, even = (
        math.fsum([math.cos(at * step) ** power for at in range(first, _STEPS, 2)])
        for first in (1, 2)
    )
    area = constant * step / 3 * (1.0 + math.cos(end) ** power + 4 * odd + 2 * even)
    return 0.5 + math.copysign(min(area, 0.5), x) if x else 0.5


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
    return 1.0 - student_below((scaled - learned.level) / learned.width, learned.freedom)

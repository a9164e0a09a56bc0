"""What was used against what was quoted: one product's difference split by its causes.

Contract: amounts in m³ (or any one unit, kept throughout), areas in m², rates as amount an area
that stays on the surface (m³/m², a film in m), losses as fractions of what is mixed, prices as
money for one unit of amount, money as plain floats. A difference above 0 means dearer than quoted.
Only :func:`to_the_cent` rounds.

With A area, r rate, L loss, P price, V amount used, q quoted, a actual:

    quoted cost  = A_q · r_q / (1 - L_q) · P_q
    area         = (A_a - A_q) · r_q / (1 - L_q) · P_q
    rate         = (r_a - r_q) · A_a / (1 - L_q) · P_q
    waste        = (V_log - A_a · r_a / (1 - L_q)) · P_q
    unexplained  = (V_a - V_log) · P_q
    price        = (P_a - P_q) · V_a
    actual cost  = quoted cost + their sum, identically

The standard is for the area really coated, so a larger top is no waste. The loss allowed by the
quote is the normal loss, borne by the price; waste is what went beyond it (abnormal loss). V_log
is what the batches of the log add up to, V_a what left the shelf by count. Where no rate was
measured, rate and waste are one figure, usage = (V_log - A_a · r_q / (1 - L_q)) · P_q.

Source: the price and the quantity difference of standard costing, (P_a - P_q) · V_a and
(V_a - V_q) · P_q, as in the textbook exercises of the published checks; the further split of the
quantity is algebra on it.
"""

from __future__ import annotations

from dataclasses import dataclass

from pourbook.errors import InputError
from pourbook.trade.measuring import require
from pourbook.trade.price.build_up import round_money


@dataclass(frozen=True)
class Quoted:
    """One product as the quote has it.

    Attributes:
        area: Area to coat, m², >= 0.
        rate: What stays on each square metre, m³/m², > 0.
        loss: Share lost of what is mixed, 0 to below 1.
        price: Money for one unit of amount, >= 0.
    """

    area: float
    rate: float
    loss: float
    price: float


@dataclass(frozen=True)
class Used:
    """The same product as the job took it.

    Attributes:
        area: Area really coated, m², >= 0.
        amount: What was used by count of the packs, >= 0.
        price: Money paid for one unit of amount, >= 0.
        rate: What really stays on each square metre, as from film readings, > 0; None if not known.
        logged: What the logged batches add up to, >= 0; None where nothing was logged.
    """

    area: float
    amount: float
    price: float
    rate: float | None = None
    logged: float | None = None


@dataclass(frozen=True)
class Difference:
    """Actual cost less quoted cost, by cause, in money; above 0 is dearer.

    ``total`` = ``area`` + ``usage`` + ``unexplained`` + ``price``, and ``usage`` = ``rate`` +
    ``waste`` where the rate is known.

    Attributes:
        quoted: Quoted cost.
        actual: Actual cost.
        total: Actual less quoted.
        area: More or less area than quoted.
        rate: Thicker or thinner than quoted; None where no rate was measured.
        waste: Used beyond what that film and the quoted loss call for; None as ``rate``.
        usage: Rate and waste together.
        unexplained: Used by count beyond what the log says.
        price: Paid more or less than quoted.
    """

    quoted: float
    actual: float
    total: float
    area: float
    rate: float | None
    waste: float | None
    usage: float
    unexplained: float
    price: float


def allowed_amount(area: float, rate: float, loss: float) -> float:
    """Return what may be used on an area: A r / (1 - L), in the unit of the rate times m².

    Args:
        area: Area, m², >= 0.
        rate: What stays on each square metre, m³/m², > 0.
        loss: Share lost of what is mixed, 0 to below 1; it divides.

    Raises:
        InputError: A figure is out of range.

    Example:
        >>> allowed_amount(6.0, 0.5, 0.25)
        4.0
    """
    require("0 or more", area=area)
    require("above 0", rate=rate)
    require("below 100 %", loss=loss)
    return area * rate / (1 - loss)


def loss_fraction(net: float, mixed: float) -> float:
    """Return all losses together as one share of what is mixed: 1 - net / mixed.

    Turns the separate losses of a quote (percentage, buckets, edges) into the one L of this
    module, and a settled job into the loss it had. Below 0 where the film holds more than was
    mixed, which can only come from the readings or the log.

    Args:
        net: What stays on the surface, >= 0.
        mixed: What was mixed, > 0, in the same unit.

    Raises:
        InputError: A figure is out of range.

    Example:
        >>> loss_fraction(3.0, 4.0)
        0.25
    """
    require("0 or more", net_amount=net)
    require("above 0", mixed_amount=mixed)
    return 1 - net / mixed


def split_difference(quoted: Quoted, used: Used) -> Difference:
    """Split actual less quoted cost by its causes, not rounded.

    Args:
        quoted: The product as quoted.
        used: The product as used; without a log what was counted stands for it, and nothing is
            unexplained.

    Raises:
        InputError: A figure is out of range.

    Example:
        >>> split = split_difference(Quoted(8.0, 0.5, 0.0, 10.0), Used(10.0, 8.0, 11.0, 0.625, 7.0))
        >>> split.area, split.rate, split.waste, split.unexplained, split.price
        (10.0, 12.5, 7.5, 10.0, 8.0)
        >>> split.quoted, split.actual, split.total
        (40.0, 88.0, 48.0)
    """
    require("0 or more", quoted_price=quoted.price, area_coated=used.area)
    require("0 or more", amount_used=used.amount, price_paid=used.price)
    logged = used.amount if used.logged is None else used.logged
    require("0 or more", amount_logged=logged)
    planned = allowed_amount(quoted.area, quoted.rate, quoted.loss)
    standard = allowed_amount(used.area, quoted.rate, quoted.loss)
    rate = waste = None
    if used.rate is not None:
        spread = allowed_amount(used.area, used.rate, quoted.loss)
        rate = (spread - standard) * quoted.price
        waste = (logged - spread) * quoted.price
    before, after = planned * quoted.price, used.amount * used.price
    return Difference(
        quoted=before,
        actual=after,
        total=after - before,
        area=(standard - planned) * quoted.price,
        rate=rate,
        waste=waste,
        usage=(logged - standard) * quoted.price,
        unexplained=(used.amount - logged) * quoted.price,
        price=(used.price - quoted.price) * used.amount,
    )


def to_the_cent(difference: Difference) -> Difference:
    """Return the difference with every figure to the cent and still adding up.

    The rule: quoted and actual cost are rounded and their difference is the total; area,
    unexplained, price and rate are rounded, halves away from zero; waste (usage, where no rate is
    known) is the total less the others. It takes the cents because it is by nature what is left
    over; it may differ from its own rounding by 3 cents at most. In a spreadsheet a rounded
    part is ``IF(x<0,0-money(0-x),money(x))``, and the last the same of a subtraction.

    Args:
        difference: As from :func:`split_difference`.

    Raises:
        InputError: A figure is no number, or above 1e12.

    Example:
        >>> even = to_the_cent(split_difference(Quoted(1.0, 1.0, 0.0, 9.995), Used(1.0, 1.0, 9.99)))
        >>> even.quoted, even.actual, even.total, even.price, even.usage
        (10.0, 9.99, -0.01, -0.01, 0.0)
    """
    quoted, actual = round_money(difference.quoted), round_money(difference.actual)
    total = round_money(actual - quoted)
    area, price = round_money(difference.area), round_money(difference.price)
    unexplained = round_money(difference.unexplained)
    usage = round_money(total - area - unexplained - price)
    rate = waste = None
    if difference.rate is not None:
        rate = round_money(difference.rate)
        waste = round_money(usage - rate)
    return Difference(quoted, actual, total, area, rate, waste, usage, unexplained, price)


def residual(difference: Difference) -> float:
    """Return the total less the sum of its parts: 0 to the cent, or somebody typed over a part.

    Args:
        difference: Any difference, rounded or not.

    Raises:
        InputError: Rate is known and waste is not, or the other way round.

    Example:
        >>> residual(split_difference(Quoted(8.0, 0.5, 0.0, 10.0), Used(10.0, 8.0, 11.0)))
        0.0
    """
    if (difference.rate is None) != (difference.waste is None):
        raise InputError("rate and waste are not both known", "give both, or usage alone")
    left = difference.total - difference.area - difference.unexplained - difference.price
    if difference.rate is None or difference.waste is None:
        return round_money(left - difference.usage)
    return round_money(left - difference.rate - difference.waste)


def purchase_difference(bought: float, paid: float, quoted: float) -> float:
    """Return what a price other than quoted made on all that was bought: (P_a - P_q) V_bought.

    Where more was bought than used, the part on the rest lies on the shelf, not in the job; it is
    this figure less the price difference of :func:`split_difference`.

    Args:
        bought: Amount bought, >= 0.
        paid: Money paid for one unit, >= 0.
        quoted: Money quoted for one unit, >= 0.

    Raises:
        InputError: A figure is below 0.

    Example:
        >>> purchase_difference(12.0, 5.5, 5.0)
        6.0
    """
    require("0 or more", bought=bought, price_paid=paid, quoted_price=quoted)
    return bought * (paid - quoted)


def margin_earned(price: float, cost: float) -> float:
    """Return the margin left of a price, a fraction of it; below 0 is a loss.

    With the quoted cost it is the margin as quoted, with the actual cost the margin as earned.

    Args:
        price: Price before tax, > 0.
        cost: Cost, >= 0, that may lie above the price.

    Raises:
        InputError: A figure is out of range.

    Example:
        >>> margin_earned(1000.0, 750.0), margin_earned(1000.0, 1250.0)
        (0.25, -0.25)
    """
    require("above 0", price=price)
    require("0 or more", cost=cost)
    return (price - cost) / price

"""A price built up from its costs, tax, and money rounded to the cent.

Contract: money as plain floats in the job's currency, rates as fractions of 1. Markup is a share
of cost, margin a share of price; the two are kept apart by name. Only :func:`round_money` rounds.
The sheet Price builds up the same way in formulas of the spreadsheet program.

Source of margin and markup: margin = markup / (1 + markup), markup = margin / (1 - margin)
(libraryguides.centennialcollege.ca, page 5115940).
"""

from __future__ import annotations

import math
from typing import Literal

from pourbook.errors import InputError
from pourbook.records import dataclass
from pourbook.trade.measuring import require

OverheadOn = Literal["labour", "direct cost"]
Uplift = Literal["margin", "markup"]


def price_from_margin(cost: float, margin: float) -> float:
    """Return the price that leaves a margin over a cost, not rounded.

    Args:
        cost: Cost, >= 0.
        margin: Margin as a fraction of the price, 0 to below 1.

    Raises:
        InputError: A figure is out of range.

    Example:
        >>> price_from_margin(75.0, 0.25)
        100.0
    """
    require("0 or more", cost=cost)
    require("below 100 %", margin=margin)
    return cost / (1 - margin)


def price_from_markup(cost: float, markup: float) -> float:
    """Return the price that puts a markup on a cost, not rounded.

    Args:
        cost: Cost, >= 0.
        markup: Markup as a fraction of the cost, >= 0.

    Raises:
        InputError: A figure is below 0.

    Example:
        >>> price_from_markup(80.0, 0.25)
        100.0
    """
    require("0 or more", cost=cost, markup=markup)
    return cost * (1 + markup)


def tax(price: float, rate: float) -> float:
    """Return the tax on a price before tax, not rounded.

    Args:
        price: Price before tax, >= 0.
        rate: Tax rate as a fraction of the price, >= 0.

    Raises:
        InputError: A figure is below 0.

    Example:
        >>> tax(200.0, 0.0625)
        12.5
    """
    require("0 or more", price=price, tax_rate=rate)
    return price * rate


def round_money(amount: float) -> float:
    """Return an amount rounded to the cent, halves away from zero.

    A half cent a float holds a hair too low still counts as a half: cents are first rounded to six
    decimals, as in the worksheet expression ``INT(ROUND(x*100,6)+0.5)/100``; below zero the same is
    done to the amount without its sign. Good up to ten million; above, a float no longer holds
    a half cent well enough to tell.

    Args:
        amount: Any amount of money.

    Raises:
        InputError: The amount is no number, or above 1e12.

    Example:
        >>> round_money(1.005), round_money(-2.675), round_money(0.1 + 0.2)
        (1.01, -2.68, 0.3)
    """
    require("any", amount=amount)
    millionths = math.floor(abs(amount) * 100 * 1e6 + 0.5)
    rounded = math.floor(millionths / 1e6 + 0.5) / 100
    return rounded if amount >= 0 else 0.0 - rounded


@dataclass(frozen=True)
class PriceBuildUp:
    """A price from its costs upward, in the job's currency.

    ``cost + profit`` is ``price_before_tax`` and ``price_before_tax + tax`` is ``price``, both to
    the cent. Costs are not rounded; the rounding of the price falls into the profit.

    Attributes:
        material: Coating material.
        sundries: Rollers, buckets, paper and the like.
        labour: Labour.
        travel: Travel.
        direct: Sum of the four above.
        overhead: Overhead put on them.
        cost: Direct cost and overhead.
        profit: What the price before tax leaves over the cost, with any top-up.
        price_before_tax: Price before tax, to the cent, not below the minimum charge.
        minimum_top_up: The part of the profit that only the minimum charge brought, to the cent.
        tax: Tax, to the cent.
        price: What the client pays, to the cent.
    """

    material: float
    sundries: float
    labour: float
    travel: float
    direct: float
    overhead: float
    cost: float
    profit: float
    price_before_tax: float
    minimum_top_up: float
    tax: float
    price: float


def build_up(
    *,
    material: float,
    sundries: float,
    labour: float,
    travel: float,
    overhead_rate: float,
    overhead_on: OverheadOn,
    uplift: Uplift,
    uplift_rate: float,
    minimum: float,
    tax_rate: float,
) -> PriceBuildUp:
    """Build a price up from its costs.

    Args:
        material: Coating material, >= 0.
        sundries: Sundries, >= 0.
        labour: Labour, >= 0.
        travel: Travel, >= 0.
        overhead_rate: Overhead as a fraction of its base, >= 0.
        overhead_on: Its base, ``labour`` or ``direct cost`` (all four costs).
        uplift: Whether the profit is a ``margin`` on the price or a ``markup`` on the cost.
        uplift_rate: Margin, 0 to below 1, or markup, >= 0.
        minimum: Minimum charge before tax, >= 0.
        tax_rate: Tax rate on the price before tax, >= 0.

    Raises:
        InputError: A figure is out of range, or a choice is not known.

    Example:
        >>> job = build_up(material=300.0, sundries=50.0, labour=400.0, travel=50.0,
        ...                overhead_rate=0.5, overhead_on="labour", uplift="margin",
        ...                uplift_rate=0.2, minimum=0.0, tax_rate=0.08)
        >>> job.cost, job.profit, job.price_before_tax, job.tax, job.price
        (1000.0, 250.0, 1250.0, 100.0, 1350.0)
    """
    require("0 or more", material=material, sundries=sundries, labour=labour, travel=travel)
    require("0 or more", overhead_rate=overhead_rate, minimum_charge=minimum)
    if overhead_on not in ("labour", "direct cost"):
        raise InputError(f"no overhead on {overhead_on!r}", "choose labour or direct cost")
    if uplift not in ("margin", "markup"):
        raise InputError(f"no uplift by {uplift!r}", "choose margin or markup")
    direct = material + sundries + labour + travel
    overhead = overhead_rate * (labour if overhead_on == "labour" else direct)
    cost = direct + overhead
    priced = price_from_margin if uplift == "margin" else price_from_markup
    worked = round_money(priced(cost, uplift_rate))
    before_tax = max(worked, round_money(minimum))
    taxed = round_money(tax(before_tax, tax_rate))
    return PriceBuildUp(
        material=material,
        sundries=sundries,
        labour=labour,
        travel=travel,
        direct=direct,
        overhead=overhead,
        cost=cost,
        profit=before_tax - cost,
        price_before_tax=before_tax,
        minimum_top_up=round_money(before_tax - worked),
        tax=taxed,
        price=round_money(before_tax + taxed),
    )

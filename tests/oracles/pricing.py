"""Margin from markup and back, prices by area: what sheets work out natively, a second time.

Contract: money as plain floats in the job's currency, rates as fractions of 1. Markup is a share
of cost, margin a share of price.

Source of margin and markup: margin = markup / (1 + markup), markup = margin / (1 - margin)
(libraryguides.centennialcollege.ca, page 5115940).
"""

from __future__ import annotations

from pourbook.errors import InputError
from pourbook.trade.measuring import require


def margin_from_markup(markup: float) -> float:
    """Return the margin a markup makes, as a fraction of the price.

    Args:
        markup: Markup as a fraction of the cost, >= 0.

    Raises:
        InputError: The markup is below 0.

    Example:
        >>> margin_from_markup(1.0)
        0.5
    """
    require("0 or more", markup=markup)
    return markup / (1 + markup)


def markup_from_margin(margin: float) -> float:
    """Return the markup that makes a margin, as a fraction of the cost.

    Args:
        margin: Margin as a fraction of the price, 0 to below 1.

    Raises:
        InputError: The margin is out of range.

    Example:
        >>> markup_from_margin(0.5)
        1.0
    """
    require("below 100 %", margin=margin)
    return margin / (1 - margin)


def per_area(price: float, area: float) -> float:
    """Return what a price comes to for each square metre, not rounded.

    Args:
        price: Price, >= 0.
        area: Area, m², above 0.

    Raises:
        InputError: A figure is out of range.

    Example:
        >>> per_area(500.0, 4.0)
        125.0
    """
    require("0 or more", price=price)
    require("above 0", area=area)
    return price / area


def replacement_range(area: float, low: float, high: float) -> tuple[float, float]:
    """Return what replacing a top instead would cost, from and to, not rounded.

    Args:
        area: Area, m², above 0.
        low: Lowest price of a new top for each square metre, >= 0.
        high: Highest price of a new top for each square metre, >= low.

    Raises:
        InputError: A figure is out of range, or the lowest price is above the highest.

    Example:
        >>> replacement_range(4.0, 400.0, 900.0)
        (1600.0, 3600.0)
    """
    require("above 0", area=area)
    require("0 or more", lowest_price=low, highest_price=high)
    if low > high:
        raise InputError("the lowest price is above the highest", "swap the two prices")
    return area * low, area * high

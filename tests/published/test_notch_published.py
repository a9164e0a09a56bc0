"""Check figures for notched trowels, computed from the geometry of the notch.

No table of notch films was open to read; every figure here is computed, with its working beside
it. The measures of a notch (width, depth, bridge between notches, angle) are named as in a
technical note of an adhesives association, May 2007 (paperzz.com/doc/9028333, definitions read).
"""

from __future__ import annotations

import math

import pytest

from pourbook.trade.film import notch_film_square, notch_film_u, notch_film_v, theoretical_spread

# Exact by definition: the inch; the US gallon of 231 cubic inches (NIST Handbook 44, App. C, read).
IN = 0.0254
MIL = IN / 1000
FT2 = (12 * IN) ** 2
GAL = 231 * IN**3


def ft2_per_gal(film: float) -> float:
    """Return the square feet a US gallon covers at a film of solid coating in m."""
    return theoretical_spread(1.0, film) * GAL / FT2


def test_n1_quarter_inch_square_notch_upright() -> None:
    film = notch_film_square(IN / 4, IN / 4, IN / 4)
    # half the surface under notches 0.25 in high: 0.125 in, 12.83 ft²/gal; computed
    assert film / IN == pytest.approx(0.125, rel=1e-9)
    assert ft2_per_gal(film) == pytest.approx(12.83, abs=5e-3)


def test_n1_quarter_inch_square_notch_leaning() -> None:
    film = notch_film_square(IN / 4, IN / 4, IN / 4, lean=math.radians(45))
    # 0.125 in x sin 45 deg = 0.0884 in, 18.15 ft²/gal; computed
    assert film / IN == pytest.approx(0.0884, abs=5e-5)
    assert ft2_per_gal(film) == pytest.approx(18.15, abs=5e-3)


# width = depth = gap, so half the notch; computed
@pytest.mark.parametrize(
    ("size", "mil", "spread"),
    [(1 / 8, 62.5, 25.67), (1 / 16, 31.25, 51.33), (3 / 16, 93.75, 17.11)],
)
def test_n2_smaller_square_notches(size: float, mil: float, spread: float) -> None:
    film = notch_film_square(size * IN, size * IN, size * IN)
    assert film / MIL == pytest.approx(mil, rel=1e-9)
    assert ft2_per_gal(film) == pytest.approx(spread, abs=5e-3)


def test_n3_v_notch() -> None:
    film = notch_film_v(0.15625 * IN, 0.1875 * IN, 0.25 * IN)
    # 0.15625 x 0.1875 / 2 / 0.25 = 0.05859 in, 27.38 ft²/gal; computed
    assert film / MIL == pytest.approx(58.59, abs=5e-3)
    assert ft2_per_gal(film) == pytest.approx(27.38, abs=5e-3)


def test_n4_u_notch() -> None:
    film = notch_film_u(0.125 * IN, 0.125 * IN, 0.25 * IN)
    # (0.125 x 0.0625 + pi x 0.125² / 8) / 0.25 = 0.05579 in, 28.75 ft²/gal; computed
    assert film / MIL == pytest.approx(55.79, abs=5e-3)
    assert ft2_per_gal(film) == pytest.approx(28.75, abs=5e-3)

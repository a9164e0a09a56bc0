"""The largest batch is the largest that can be spread in its own pot life, whatever the bucket.

The expected figures come from solving the condition by hand. A batch of V litres weighs D V kg, and
where that is more than the mass m0 its pot life P is stated for, it has P m0 / (D V) minutes. Of
these M go into mixing; R litres are spread in a minute, and K litres stay in the bucket. So

    V - K = R (P m0 / (D V) - M)   or   V² + (R M - K) V - R P m0 / D = 0

and V is the one root above 0. A batch lighter than m0 gets P, no more.
"""

from __future__ import annotations

import math
from collections.abc import Callable

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from pourbook.cells import Rows, Value
from pourbook.functions.catalogue import catalogue, evaluate

Job = Callable[..., list[Value | Rows]]
DENSITY = (2 * 1.1 + 1.0) / 3  # kg/L of the mix of the test job: two parts of A to one of B


def _planned(call: list[Value | Rows]) -> dict[str, Value]:
    found = evaluate("PB_PLAN", [*call[:7], "metric"])
    assert isinstance(found, list)
    return dict(zip([c.id for c in catalogue()["PB_PLAN"].columns], found[0], strict=True))


def _by_hand(
    pot_life: float, grams: float, rate: float, mixing: float, left: float, bucket: float
) -> float | None:
    """Return the largest batch in litres; None where even the smallest sets while mixing."""
    if pot_life <= mixing:
        return None
    stated = grams / 1000 / DENSITY
    half = (rate * mixing - left) / 2
    root = -half + math.sqrt(half * half + rate * pot_life * stated)
    in_time = root if root > stated else rate * (pot_life - mixing) + left
    return min(bucket, in_time)


@pytest.mark.parametrize("bucket", [1.1, 1.18, 1.5, 2, 5, 60])
def test_a_bigger_bucket_never_makes_a_batch_impossible(bucket: float, job: Job) -> None:
    """40 min for 150 g, 3 min of mixing, 1 mm, two hands at 20 m²/h: 1.179 L in any bucket."""
    work = {"pot_mass": "150 g"}
    how = {"bucket": f"{bucket} L", "hands": 2, "pace": 20, "batch_loss": None}
    plan = _planned(job({}, how, {"minutes": 3}, work, (("Top", 2.0, "yes"),)))
    assert plan["plan_status"] == "ok"
    # V² + 2 V - 4/D = 0
    by_hand = min(bucket, -1 + math.sqrt(1 + 4 / DENSITY))
    assert plan["limit"] == pytest.approx(by_hand, rel=1e-9)
    assert plan["binds"] == ("bucket" if bucket <= by_hand else "pot life")


@given(
    st.floats(10, 90),
    st.sampled_from([50.0, 100.0, 150.0, 500.0, 2000.0]),
    st.floats(4, 40),
    st.integers(1, 4),
    st.floats(0.2, 3),
    st.floats(0.5, 10),
    st.sampled_from([0.0, 0.02, 0.1]),
    st.floats(0.3, 40),
)
def test_the_largest_batch_is_the_root_of_its_condition(
    job: Job, pot_life: float, grams: float, pace: float, hands: int, film: float,
    mixing: float, left: float, bucket: float,
) -> None:  # fmt: skip
    how: dict[str, Value] = {"bucket": f"{bucket} L", "hands": hands, "pace": pace}
    how["batch_loss"] = f"{left} L" if left else None
    work: dict[str, Value] = {"pot_life": pot_life, "pot_mass": f"{grams} g"}
    call = job({"spread": f"{film} mm"}, how, {"minutes": mixing}, work, (("Top", 2.0, "yes"),))
    plan = _planned(call)
    expected = _by_hand(pot_life, grams, hands * pace * film / 60, mixing, left, bucket)
    if expected is None or expected < left - 0.02:  # all of it would stay in the bucket
        assert str(plan["plan_status"]).startswith("! ")
        return
    assume(expected > left + 0.02)  # else more batches than anybody mixes
    assert plan["plan_status"] == "ok"
    assert plan["limit"] == pytest.approx(expected, rel=1e-9)

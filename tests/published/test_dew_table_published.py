"""The dew point table that hangs in many shops: DIN 4108, from memory.

Dew point in °C by air temperature and relative humidity, printed to a tenth. Formulas for the
pressure of vapour differ by up to a tenth here; psychrolib agrees with each figure to 0.15 K.
"""

from __future__ import annotations

import psychrolib
import pytest

from pourbook.trade.air import dew_point

psychrolib.SetUnitSystem(psychrolib.SI)
HUMIDITIES = (30, 35, 40, 45, 50, 55, 60, 65, 70, 75, 80, 85, 90, 95)
TABLE = {
    30: (10.5, 12.9, 14.9, 16.8, 18.4, 20.0, 21.4, 22.7, 23.9, 25.1, 26.2, 27.2, 28.2, 29.1),
    25: (6.2, 8.5, 10.5, 12.2, 13.9, 15.3, 16.7, 18.0, 19.1, 20.3, 21.3, 22.3, 23.2, 24.1),
    20: (1.9, 4.1, 6.0, 7.7, 9.3, 10.7, 12.0, 13.2, 14.4, 15.4, 16.4, 17.4, 18.3, 19.2),
}
PRINTED = [
    (air, humidity, dew)
    for air, row in TABLE.items()
    for humidity, dew in zip(HUMIDITIES, row, strict=True)
]


@pytest.mark.parametrize(("air", "humidity", "dew"), PRINTED)
def test_the_printed_dew_point(air: float, humidity: float, dew: float) -> None:
    assert dew_point(air + 273.15, humidity / 100) - 273.15 == pytest.approx(dew, abs=0.1)
    assert psychrolib.GetTDewPointFromRelHum(air, humidity / 100) == pytest.approx(dew, abs=0.15)

"""Whether a pass is as thick as its product allows: a column aside of PB_PLAN.

Contract: :func:`told` gives ``ok``, or a ``CHECK`` with how many passes it takes and how long they
wait for each other. What a data sheet does not state is not judged. It never changes a plan.
"""

from __future__ import annotations

import math

from pourbook import units
from pourbook.cells import CHECK, OK
from pourbook.functions.batch.plans import Planned
from pourbook.tables.declared import Column
from pourbook.tables.works import HOUR

RESULTS = (Column("pass_film", "ok, or CHECK with how many passes a film that thick takes"),)
_SLACK = 1e-9
_DAY = 24.0


def told(planned: Planned, system: units.System) -> str:
    """Return ``ok``, or what is wrong with the film of one pass.

    Args:
        planned: The layer.
        system: The job's units.
    """
    layer, how = planned.layer, planned.working
    film = layer.thickest_pass
    wet = units.show(film, system.film, 3)
    if how.thickest is not None and film > how.thickest * (1 + _SLACK):
        passes = math.ceil(film * layer.passes / how.thickest * (1 - _SLACK))
        most = units.show(how.thickest, system.film, 3)
        return (
            f"{CHECK}: {wet} wet in a pass, and {layer.product.name} takes {most} at most: type "
            f"{passes} passes of {units.show(film * layer.passes / passes, system.film, 3)} "
            f"on Layers{_waiting(passes, how.recoat_from)}"
        )
    if how.thinnest is not None and layer.wet < how.thinnest * (1 - _SLACK):
        least = units.show(how.thinnest, system.film, 3)
        return (
            f"{CHECK}: {wet} wet in a pass, and {layer.product.name} needs {least} to flow "
            "together: a larger coverage or fewer passes on Layers"
        )
    return OK


def _waiting(passes: int, recoat: float | None) -> str:
    """Return how long the passes wait for each other, as the data sheet states it."""
    if recoat is None:
        return ", each after the recoat time of the one before"
    hours = (passes - 1) * recoat / HOUR
    days = math.ceil(hours / _DAY)
    return f"; the last goes on {hours:g} h after the first, {days + 1} days on site"

"""How the plan of a layer came about, step by step, for ``explain``.

Contract: plain steps with their units; nothing is planned here.
"""

from __future__ import annotations

from pourbook import units
from pourbook.cells import Told, ranges_are_of
from pourbook.functions.batch.plans import Planned, least_film, ready_seconds
from pourbook.tables import works as working_table
from pourbook.tables.works import MINUTE


def steps(plan: Planned, system: units.System) -> list[Told]:
    """Return the working of a layer's plan for ``explain``."""
    layer, doing, working = plan.layer, plan.doing, plan.working
    stated = (working.pot_life or 0.0) / MINUTE
    moved = plan.pot_life / MINUTE
    mixing = ready_seconds(layer, doing) / MINUTE
    planned_with = moved * doing.share
    needs = layer.needs(first=True)
    film = least_film(layer, needs, loose=ranges_are_of() == 1)
    minutes = max(planned_with - mixing, 0.0)
    spread = doing.hands * doing.pace * film * minutes * MINUTE + doing.batch_loss
    largest = max(b.mixed for p in plan.passes for b in p.batches)
    pace = units.express(doing.pace, system.area) * working_table.HOUR
    safe = working.safe_mix
    found = [
        Told("Pot life stated", "from the data sheet", stated, "min"),
        Told("Pot life of the largest batch", "at the day temperature and its mass", moved, "min"),
        Told("Planned within", f"{doing.share * 100:g} % of it", planned_with, "min"),
        Told(
            "Time to spread it",
            f"that less {mixing:g} min of mixing and carrying",
            minutes,
            "min",
        ),
        Told(
            "Spreadable in that time",
            f"{doing.hands} spreading x {pace:.4g} {system.area}/h x "
            f"{units.show(film, system.film, 3)} of mix at the least x time, and what stays in "
            "the bucket",
            units.express(spread, system.volume),
            system.volume,
        ),
        Told("Bucket", "what it holds", units.express(doing.bucket, system.volume), system.volume),
    ]
    if safe is not None:
        shown = units.express(safe, system.volume)
        found.append(Told("Largest safe mix", "from the data sheet", shown, system.volume))
    if doing.most_area is not None:
        area = units.show(doing.most_area, system.area, 3)
        shown = units.express(doing.most_area * film + doing.batch_loss, system.volume)
        how = f"{area} of mix at the least, and what stays in the bucket"
        found.append(Told("Most area a batch", how, shown, system.volume))
    limit = units.express(plan.limit, system.volume)
    planned = units.express(largest, system.volume)
    return [
        *found,
        Told("Largest batch", f"the smallest of these binds: {plan.binds}", limit, system.volume),
        Told("Largest planned", "the pieces packed evenly", planned, system.volume),
        Told("No fewer than", "proven lower bound of all passes", plan.bound, "batches"),
        Told("Batches", "as planned", plan.batches, "batches"),
    ]

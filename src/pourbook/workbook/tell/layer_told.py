"""How a layer came about, step by step, for ``explain``.

Contract: plain steps with their units; nothing is worked out here.
"""

from __future__ import annotations

from pourbook import units
from pourbook.cells import Told
from pourbook.tables.layers import Layer


def steps(layer: Layer, system: units.System) -> list[Told]:
    """Return how a layer came about, for ``explain``."""

    def shown(label: str, working: str, value: float, unit: str) -> Told:
        return Told(label, working, units.express(value, unit), unit)

    volume = layer.volume
    return [
        shown(
            "Area", " + ".join(layer.surfaces) + " of the measured rooms", layer.area, system.area
        ),
        shown("Edge run", "exposed edge of the same rooms", layer.run, system.run),
        shown("Wet film", f"spread {layer.spread.typed}, one pass", layer.wet, system.film),
        shown(
            "Dry film",
            f"wet film x {layer.product.solids:.4g} volume solids x {layer.passes} pass(es), "
            "thinner taken off",
            layer.dry,
            system.film,
        ),
        shown(
            "Net mix",
            "coverage x area x passes, less what verticals do not hold",
            volume.net,
            system.volume,
        ),
        shown("Soak-in", "what the bare surface drinks, first coat", volume.take_up, system.volume),
        shown(
            "Edge run-off",
            "run-off x edge run, and what verticals do not hold",
            volume.edge_loss,
            system.volume,
        ),
        shown(
            "Loss",
            f"({layer.loss * 100:.4g} % of what is mixed: divide by 1 - loss)",
            volume.percent_loss,
            system.volume,
        ),
        shown("Bucket hold-back", f"{layer.batches} batch(es)", volume.batch_loss, system.volume),
        shown("Mixed", "the sum of these", volume.mixed, system.volume),
    ]

"""PB_PARTS: how much of each part and of each addition every layer takes.

Contract: one result row for each row of the Layers table; the parts add up to the mixed volume of
PB_AMOUNTS. A layer that is refused there is refused here with the same words.
"""

from __future__ import annotations

from pourbook import units
from pourbook.cells import Rows, Told, Value
from pourbook.functions.declare import Example, Function, Result
from pourbook.functions.mix import amounts
from pourbook.tables import products as product_table
from pourbook.tables import rooms
from pourbook.tables.declared import Column
from pourbook.tables.layers import Layer
from pourbook.tables.reading import Dose
from pourbook.tables.row_loop import shown_each
from pourbook.trade import mixing

RESULTS = (
    Column("part_option", "The finish option the layer belongs to"),
    Column("part_number", "Which layer of its option it is, counted from below"),
    Column("part_layer", "The layer"),
    Column("part_product", "The product"),
    Column("volume_a", "Part A by volume", "volume"),
    Column("volume_b", "Part B by volume", "volume"),
    Column("volume_c", "Part C by volume", "volume"),
    Column("mass_a", "Part A by weight", "small_mass"),
    Column("mass_b", "Part B by weight", "small_mass"),
    Column("mass_c", "Part C by weight", "small_mass"),
    Column("pigment_mass", "Pigment by weight", "small_mass"),
    Column("thinner_volume", "Water or thinner by volume", "small_volume"),
    Column("broadcast_mass", "Broadcast media by weight", "small_mass"),
    Column("part_status", "ok, or what to fix in this layer"),
)


def additions(layer: Layer) -> tuple[float, float, float]:
    """Return pigment in kg, thinner in m³ and broadcast media in kg of a whole layer."""
    return doses(layer, layer.volume.mixed, layer.batches, layer.area)


def doses(layer: Layer, mixed: float, batches: int, area: float) -> tuple[float, float, float]:
    """Return pigment in kg, thinner in m³ and broadcast media in kg of some of a layer's mix.

    Args:
        layer: The layer.
        mixed: Volume mixed, m³.
        batches: In how many batches.
        area: Area it is for, m²; doses per area are stated for the layer, all passes together.
    """
    mass = mixed * layer.product.density
    return (
        _dose(layer.pigment, mass, batches, area),
        _dose(layer.thinner, mixed, batches, area),
        _dose(layer.broadcast, mass, batches, area),
    )


def _dose(dose: Dose, amount: float, batches: int, area: float) -> float:
    if dose.basis == "share":
        return mixing.dose_share(amount, dose.amount)
    if dose.basis == "per batch":
        return mixing.dose_per_batch(dose.amount, batches)
    return mixing.dose_per_area(dose.amount, area)


def steps(layer: Layer, system: units.System) -> list[Told]:
    """Return the working of a layer's parts for ``explain``."""
    product = layer.product
    shares = mixing.split(layer.volume.mixed, product.ratio, product.densities, product.basis)
    mixed = units.express(layer.volume.mixed, system.volume)
    found = [Told("Mixed", "from the Amounts table", mixed, system.volume)]
    words = product_table.in_words(product)
    for part, share, density in zip(product_table.PARTS, shares, product.densities, strict=False):
        volume = units.express(share.volume, system.volume)
        found.append(Told(f"Part {part}", f"mixed split {words}", volume, system.volume))
        dense = units.show(density, system.density, 3)
        mass = units.express(share.mass, system.small_mass)
        found.append(Told(f"Part {part} weighs", f"volume x {dense}", mass, system.small_mass))
    pigment, thinner, broadcast = additions(layer)
    for label, dose, amount, unit in (
        ("Pigment", layer.pigment, pigment, system.small_mass),
        ("Water or thinner", layer.thinner, thinner, system.small_volume),
        ("Broadcast", layer.broadcast, broadcast, system.small_mass),
    ):
        if dose.amount:
            found.append(Told(label, dose.typed, units.express(amount, unit), unit))
    return found


def compute(
    layers: Rows,
    products: Rows,
    room_rows: Rows,
    plans: Rows,
    system_name: str,
    works: Rows = (),
) -> Result:
    """Return the result rows of PB_PARTS."""
    system = rooms.system_of(system_name)
    worked = amounts.with_batches(layers, products, room_rows, plans, system, works)
    names = amounts.named(layers)
    return shown_each(worked, len(RESULTS), lambda layer: _shown(layer, system), names)


def _shown(layer: Layer, system: units.System) -> list[Value]:
    product = layer.product
    shares = mixing.split(layer.volume.mixed, product.ratio, product.densities, product.basis)
    missing: list[Value] = [0.0] * (len(product_table.PARTS) - len(shares))
    pigment, thinner, broadcast = additions(layer)
    return [
        *(units.express(s.volume, system.volume) for s in shares),
        *missing,
        *(units.express(s.mass, system.small_mass) for s in shares),
        *missing,
        units.express(pigment, system.small_mass),
        units.express(thinner, system.small_volume),
        units.express(broadcast, system.small_mass),
    ]


PB_PARTS = Function(
    name="PB_PARTS",
    summary="Each part by volume and by weight, and the additions, of every layer.",
    arguments=amounts.PB_AMOUNTS.arguments,
    result="one row a layer, in the job's units, and a status",
    valid="as for PB_AMOUNTS; 1 to 3 parts",
    source="mass balance through the densities; no change of volume on mixing is assumed",
    examples=(
        Example(
            (
                (amounts.EXAMPLE_LAYER,),
                (amounts.EXAMPLE_PRODUCT,),
                (amounts.EXAMPLE_ROOM,),
                (amounts.EXAMPLE_PLAN,),
                "metric",
            ),
            (("A", 1, "Flood", "Clear", 1.1, 1.1, 0.0, 1210.0, 1100.0, 0.0, 0.0, 0.0, 0.0, "ok"),),
        ),
    ),
    compute=compute,
    columns=RESULTS,
)

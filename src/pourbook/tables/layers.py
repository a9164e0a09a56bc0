"""One layer worked out: its area, film, losses and mix, from a row of the Layers table.

Contract: :func:`work_out` gives a :class:`Layer` in SI units or refuses it by column. A layer takes
its area from the measured rooms and its mix from the products; as long as a room or product it
needs is not in order, the layer is refused and says which.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from contextlib import suppress
from dataclasses import replace
from functools import cached_property

from pourbook import units
from pourbook.cells import (
    Rows,
    Value,
    choice,
    is_blank,
    number,
    ranges_are_of,
    refuse_errors,
    text,
)
from pourbook.errors import (
    BlankError,
    InputError,
    MisreadError,
    PourbookError,
    RangeError,
    UnknownError,
)
from pourbook.once import once
from pourbook.records import dataclass
from pourbook.tables import products as product_table
from pourbook.tables import reading
from pourbook.tables.declared import declared
from pourbook.tables.measured import (
    FILLS,
    SURFACES,
    Covered,
    MeasuredPiece,
    RoomTotals,
    joins_of,
    todays_surfaces,
)
from pourbook.tables.products import Product
from pourbook.tables.reading import Dose, Spread
from pourbook.tables.row_loop import read_each
from pourbook.tables.works import Working, find, working_by_name
from pourbook.trade import film, mixing
from pourbook.trade.batch.pieces import Join, Piece
from pourbook.trade.filling import pours
from pourbook.trade.film import MixedVolume

TABLE = declared("layers")
COLUMNS, LABELS = TABLE.columns, TABLE.labels
OPTIONS, METHODS = TABLE.choices["option"], TABLE.choices["method"]
POURED = "pour"
DEPTH = "depth"
MOST_PASSES = 20
BEFORE = TABLE.choices["before"]
NOTHING, CLEANING, SANDING = BEFORE
USUAL_VERTICAL = 0.0003
"""Film in m that an edge or a splash holds of a self-levelling coat, some 12 mil (common practice,
no source: 8 to 15 mil)."""


@dataclass(frozen=True)
class Layer:
    """One layer worked out, SI: areas in m², runs and films in m, volumes in m³.

    ``mix_film`` is the mix of one pass before thinning (m³/m²), ``take_up`` what the surface drinks
    of the first pass on the mean (m³/m²), each piece its own share, ``edge_loss`` what runs off in
    the first pass (m³/m), ``run`` its exposed edge. Without ``batches`` its volume leaves out what
    stays in buckets and tools.
    """

    option: str
    name: str
    method: str
    before: str
    product: Product
    pieces: tuple[MeasuredPiece, ...]
    surfaces: tuple[str, ...]
    area: float
    run: float
    spread: Spread
    mix_film: float
    take_up: float
    edge_loss: float
    loss: float
    passes: int
    batches: int
    wet: float
    dry: float
    volume: MixedVolume
    pigment: Dose
    thinner: Dose
    broadcast: Dose
    run_off: float = 0.0
    """What edges and splashes do not hold of what is poured over them, all passes, m³."""
    deepest: float = 0.0
    """The deepest of what a pass fills, m of mix; 0 for a layer that coats surfaces."""

    def needs(self, *, first: bool) -> tuple[Piece, ...]:
        """Return what each of its pieces needs in one pass, batch losses aside, for the planner.

        Args:
            first: Whether it is the first pass, which also feeds a porous surface and the run-off.
        """
        return self._first_needs if first else self._later_needs

    @cached_property
    def _first_needs(self) -> tuple[Piece, ...]:
        extra = (piece.soaked + piece.run * self.edge_loss for piece in self.pieces)
        return tuple(map(self._need, self.pieces, extra))

    @cached_property
    def _later_needs(self) -> tuple[Piece, ...]:
        return tuple(self._need(piece, 0.0) for piece in self.pieces)

    def _need(self, piece: MeasuredPiece, extra: float) -> Piece:
        mix = piece.area * self.mix_film
        if piece.fill:  # each by its own depth, of which the layer has the mean
            mix *= piece.depth / self._mean_depth
        need = (mix + extra) / (1 - self.loss)
        return Piece(piece.name, need, piece.may_split, piece.order, piece.room)

    @cached_property
    def _mean_depth(self) -> float:
        """The mean depth of what is filled, m."""
        return math.fsum(piece.fill for piece in self.pieces) / self.area

    @cached_property
    def joins(self) -> tuple[Join, ...]:
        """The places of its pieces that run into each other."""
        return joins_of(self.pieces)

    @property
    def thickest_pass(self) -> float:
        """Return the wet film of one pass where it is thickest, m."""
        return max(self.wet, self.deepest)


def read_surfaces(value: Value) -> list[str]:
    """Return the surfaces a layer coats, from a text such as ``top + edge``.

    Raises:
        InputError: It is blank or names something else.
    """
    label = LABELS["surfaces"]
    words = [w.strip().casefold() for w in todays_surfaces(value).split("+") if w.strip()]
    if not words:
        raise BlankError("it is blank", "choose what the layer coats, such as top", label)
    for word in words:
        if word not in SURFACES:
            raise UnknownError(f"'{word}' is no surface", "choose from the list", label)
    if FILLS in words and len(set(words)) > 1:
        mend = "give what is filled a layer of its own"
        raise InputError("fills go with no surface", mend, label)
    return list(dict.fromkeys(words))


def work_out(
    row: dict[str, Value],
    products: Mapping[str, Product | PourbookError],
    measured: RoomTotals,
    system: units.System,
    covered: Covered = lambda _room, _surface: True,
    works: Mapping[str, Working | PourbookError] | None = None,
) -> Layer:
    """Work out one layer, before its batches are planned.

    Args:
        row: The cells of the Layers table by column id.
        products: The products by name in small letters, refusals among them.
        measured: The measured rooms.
        system: The job's units.
        covered: Which surfaces have a coat below this one: they drink nothing.
        works: How each product works, for a layer given as a depth.

    Raises:
        InputError: Something is missing or impossible; the place is the column or sheet.
    """
    refuse_errors(row, LABELS)
    option = choice(row["option"], LABELS["option"], OPTIONS)
    name = text(row["layer"])
    if not name:
        raise BlankError("it is blank", "name the layer, such as 'flood coat'", LABELS["layer"])
    product = product_table.named(row["product"], products, LABELS["product"])
    method = choice(row["method"], LABELS["method"], METHODS)
    before = choice(row["before"], LABELS["before"], BEFORE, NOTHING)
    surfaces = read_surfaces(row["surfaces"])
    wanted = _rooms(row)
    pieces = measured.pieces(wanted, surfaces, covered)
    area = math.fsum(p.area for p in pieces)
    run = math.fsum(p.run for p in pieces)
    if area <= 0:
        mend = "measure them on the Rooms sheet, or choose other surfaces"
        raise UnknownError(f"there is no {' or '.join(surfaces)} to coat", mend, LABELS["surfaces"])
    film_is = choice(row["film"], LABELS["film"], TABLE.choices["film"], "wet")
    spread = _spread(row, film_is, pieces, system)
    deepest = max(p.depth for p in pieces)
    whole = deepest or (spread.amount if film_is == DEPTH else 0.0)
    passes = _passes(row, whole, product, works)
    loss = number(row["loss"], LABELS["loss"], 0.0)
    if not 0 <= loss < 1:
        raise RangeError(f"{loss * 100:.4g} %", "type 0 % to below 100 %", LABELS["loss"])
    pigment = reading.dose(row["pigment"], "mass", LABELS["pigment"], system)
    thinner = reading.dose(row["thinner"], "volume", LABELS["thinner"], system)
    broadcast = reading.dose(row["broadcast"], "mass", LABELS["broadcast"], system)
    if broadcast.basis == "share" and broadcast.amount:
        raise InputError("it is a share of the mix", "type it per area", LABELS["broadcast"])
    in_a_pass = replace(spread, amount=spread.amount / passes) if whole else spread
    net_film = _mix_film(in_a_pass, product, thinner, film_is == "dry")
    take_up = math.fsum(p.soaked for p in pieces) / area
    if not is_blank(row["take_up"]):
        take_up = _part(row, "take_up", "volume_per_area", system.volume_per_area, system)
        pieces = tuple(p._replace(soaked=p.area * take_up) for p in pieces)
    run_off_unit = f"{system.small_volume}/{system.run}"
    edge_loss = _part(row, "edge_loss", "volume_per_length", run_off_unit, system)
    upright = math.fsum(p.vertical for p in pieces)
    over = net_film - min(net_film, _held(method, product))
    volume = film.mixed_volume(
        (net_film * area - over * upright) * passes,
        area=area,
        take_up=take_up,
        edge_run=run,
        edge_loss=edge_loss,
        run_off=over * upright * passes,
        loss=loss,
        batches=0,
        batch_loss=0.0,
    )
    thinned = _thinned(thinner, volume.mixed, 0)
    return Layer(
        option=option,
        name=name,
        method=method,
        before=before,
        product=product,
        pieces=pieces,
        surfaces=tuple(surfaces),
        area=area,
        run=run,
        spread=spread,
        mix_film=net_film,
        take_up=take_up,
        edge_loss=edge_loss,
        loss=loss,
        passes=passes,
        batches=0,
        wet=net_film * (1 + thinned),
        dry=film.dry_from_wet(net_film * (1 + thinned), product.solids, thinned) * passes,
        volume=volume,
        pigment=pigment,
        thinner=thinner,
        broadcast=broadcast,
        run_off=over * upright * passes,
        deepest=deepest / passes,
    )


def _spread(
    row: Mapping[str, Value], film_is: str, pieces: Sequence[MeasuredPiece], system: units.System
) -> Spread:
    """Return how thick a layer goes on; that of fills is their mean depth, all passes together."""
    volume = math.fsum(p.fill for p in pieces)
    if volume:
        for name in ("spread", "film"):
            if not is_blank(row[name]):
                what = "what is filled goes by its own depth"
                raise InputError(what, "clear it", LABELS[name])
        mean = volume / math.fsum(p.area for p in pieces)
        return Spread("film", mean, "the mean depth of what is filled")
    spread = reading.spread(row["spread"], system)
    if film_is in {"dry", DEPTH} and spread.kind != "film":
        mend = "clear it, or give the spread as a film thickness"
        raise InputError(f"only a film thickness can be {film_is}", mend, LABELS["film"])
    return spread


def _passes(
    row: Mapping[str, Value],
    depth: float,
    product: Product,
    works: Mapping[str, Working | PourbookError] | None,
) -> int:
    """Return how many passes a layer takes; a depth takes as many as its product asks for."""
    if not depth or not is_blank(row["passes"]):
        return _whole(row["passes"], LABELS["passes"])
    thickest = find(works or {}, product.name, LABELS["product"]).thickest
    if thickest is None:
        mend = f"type Thickest pass of {product.name} on Products, or how many passes"
        raise BlankError("it is blank", mend, LABELS["passes"])
    found = pours(depth, thickest)
    if found > MOST_PASSES:
        what = f"it takes {found} passes"
        raise RangeError(what, "look at the depth and at Thickest pass on Products", LABELS["film"])
    return found


def _held(method: str, product: Product) -> float:
    """Return the film a vertical holds of a pass, m of mix; a rolled coat stays as it is rolled."""
    if method == "roll" or ranges_are_of() == 1:
        return math.inf
    return USUAL_VERTICAL if product.vertical is None else product.vertical


def _rooms(row: Mapping[str, Value]) -> list[str]:
    """Return the rooms a layer is kept to; all if there are none."""
    return [r.strip() for r in text(row["rooms"]).split(";") if r.strip()]


def in_batches(layer: Layer, batches: int, batch_loss: float) -> Layer:
    """Return a layer with what its batches leave in buckets and tools.

    Args:
        layer: The layer, worked out.
        batches: In how many batches it is mixed, from 1.
        batch_loss: What stays in bucket and tools of each, m³.
    """
    volume = film.mixed_volume(
        layer.mix_film * layer.area * layer.passes - layer.run_off,
        area=layer.area,
        take_up=layer.take_up,
        edge_run=layer.run,
        edge_loss=layer.edge_loss,
        run_off=layer.run_off,
        loss=layer.loss,
        batches=batches,
        batch_loss=batch_loss,
    )
    thinned = _thinned(layer.thinner, volume.mixed, batches)
    wet = layer.mix_film * (1 + thinned)
    dry = film.dry_from_wet(wet, layer.product.solids, thinned) * layer.passes
    return replace(layer, batches=batches, volume=volume, wet=wet, dry=dry)


def _whole(value: Value, label: str) -> int:
    count = number(value, label, 1.0)
    if count < 1 or count != int(count):
        raise MisreadError(f"'{text(value)}' is no count", "type 1, 2, 3 ...", label)
    return int(count)


def _part(row: dict[str, Value], name: str, kind: str, unit: str, system: units.System) -> float:
    if is_blank(row[name]):
        return 0.0
    return reading.labelled(row[name], kind, LABELS[name], unit, system.fluids)


def _mix_film(spread: Spread, product: Product, thinner: Dose, dry: bool) -> float:
    """Return the mix on the surface before thinning, m³/m², of one pass."""
    if spread.kind == "volume":
        return spread.amount
    if spread.kind == "mass":
        return film.film_from_mass(spread.amount, product.density)
    if dry:
        return spread.amount / product.solids
    if thinner.amount and thinner.basis != "share":
        mend = "type the thinner as % vol, or the spread by volume"
        raise InputError("a wet film needs it as a share", mend, LABELS["thinner"])
    return spread.amount / (1 + thinner.amount)


def _thinned(thinner: Dose, mixed: float, batches: int) -> float:
    """Return the thinner as a fraction of the volume it goes into."""
    if thinner.basis == "share":
        return thinner.amount
    return mixing.thinner_fraction(mixing.dose_per_batch(thinner.amount, batches), mixed)


@once
def work_out_all(
    layers: Rows,
    products: Rows,
    room_rows: Rows,
    system: units.System,
    works: Rows = (),
) -> Sequence[Layer | PourbookError | None]:
    """Work out every row of the Layers table: a layer, its refusal, or None for a blank row.

    Args:
        layers: The entry columns of the Layers table.
        products: The entry columns of the Products table.
        room_rows: The whole Rooms table.
        system: The job's units.
        works: The Working and curing table, for layers given as a depth.
    """
    how = working_by_name(works, system)
    known = product_table.products_by_name(products, system)
    measured = RoomTotals.of(room_rows, system)
    below: list[tuple[str, tuple[str, ...], tuple[str, ...]]] = []

    def work(row: dict[str, Value]) -> Layer:
        option = text(row["option"]).casefold()
        mine = [(rooms, coated) for of, rooms, coated in below if of == option]
        with suppress(PourbookError):  # refused below, in its turn
            rooms = tuple(room.casefold() for room in _rooms(row))
            below.append((option, rooms, tuple(read_surfaces(row["surfaces"]))))
        return work_out(
            row,
            known,
            measured,
            system,
            lambda room, surface: any(
                surface in coated and (not only or room in only) for only, coated in mine
            ),
            how,
        )

    return read_each(layers, COLUMNS, lambda _, row: work(row))

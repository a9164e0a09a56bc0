"""PB_DRAWING: the points of a drawing of all pieces to scale, coloured and numbered by batch.

Contract: always :data:`ROWS` result rows of numbers, so that a chart can draw them as they are: the
outlines in :data:`PIECES` blocks, the lines and numbers of batches, the seams and the joins in
:data:`SLOTS` blocks. What is not there stands at :data:`ASIDE`, off the page. The texts of the
drawing stand in the second column, each in its row (:data:`TEXTS`); its status in the first row.
"""

from __future__ import annotations

import itertools
from collections import Counter, defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from pourbook import units
from pourbook.cells import OK, Rows, Value, is_blank, number
from pourbook.errors import InputError, PourbookError, UnknownError, WaitsError
from pourbook.functions.batch import batches, mixes
from pourbook.functions.batch.mixes import Mix
from pourbook.functions.declare import Argument, Example, Function, Result
from pourbook.functions.draw.drawn_pieces import Drawn, Key, pieces, run_together
from pourbook.tables import rooms
from pourbook.tables.declared import Column
from pourbook.tables.job_tables import JobTables, going_of
from pourbook.trade.drawing import hatch, on_page
from pourbook.trade.drawing.outlines import Outline, spans

PIECES, POINTS = 24, 32
"""The most pieces of one drawing, and the points of an outline."""
SLOTS, LINES, NUMBERS = 10, 48, 16
"""The most batches with a colour of their own; lines and numbers of each."""
SLOT = LINES + NUMBERS
ROWS = PIECES * POINTS
ASIDE = -60.0
TEXTS = {"layer": 3, "width": 4, "missing": 5}
"""Rows of the texts, from 0; those of a piece, of a batch and of its number are begun by blocks."""
_NUMBER, _BATCH = 1, 6
_SEAMS, _JOINS = SLOTS, SLOTS + 1
_THERE_AND_BACK = 2
_NEAR_TALLEST = 0.7
"""How tall a line must be, of the tallest of a part, to carry its number."""
_FINEST, _COARSER, _COARSEST = 0.9, 1.15, 40
RESULTS = (
    Column("drawing_status", "In the first row: ok, or why no batches are drawn"),
    Column("label", "Texts of the drawing: names of pieces, numbers of batches, what is drawn"),
    Column("outline_x", "Points of the outlines, across"),
    Column("outline_y", "Points of the outlines, upwards"),
    Column("line_x", "Lines and numbers of a batch, seams, joins: across"),
    Column("line_y", "Lines and numbers of a batch, seams, joins: upwards"),
    Column("line_size", "How long each line is"),
)


@dataclass
class _Sheet:
    """The rows as they are filled."""

    status: str = OK
    texts: dict[int, str] = field(default_factory=dict)
    outlines: dict[int, tuple[float, float]] = field(default_factory=dict)
    lines: dict[int, tuple[float, float, float]] = field(default_factory=dict)
    left_out: list[str] = field(default_factory=list)

    def rows(self) -> list[list[Value]]:
        """Return the result rows."""
        aside = (ASIDE, ASIDE)
        return [
            [
                "" if at else self.status,
                self.texts.get(at, ""),
                *self.outlines.get(at, aside),
                *self.lines.get(at, (*aside, 0.0)),
            ]
            for at in range(ROWS)
        ]

    def put(
        self, slot: int, found: Sequence[tuple[float, float, float]], first: int, most: int
    ) -> None:
        """Put lines or numbers into a block, evenly thinned where it does not hold them."""
        if len(found) > most:
            found = [found[at * len(found) // most] for at in range(most)]
        for at, line in enumerate(found):
            self.lines[slot * SLOT + first + at] = line


def compute(
    layers: Rows,
    doing: Rows,
    products: Rows,
    working: Rows,
    room_rows: Rows,
    temperature: float,
    crew: float,
    option: str,
    system_name: str,
    going: Value = None,
    layer: Value = None,
    turn: Value = None,
    room: Value = None,
) -> Result:
    """Return the result rows of PB_DRAWING."""
    system = rooms.system_of(system_name)
    tables = JobTables(layers, doing, products, working, room_rows, system, going_of(going))
    found = mixes.mixes(tables, units.to_si(temperature, system.temperature), crew, option)
    sheet = _Sheet()
    drawn = pieces(room_rows, system, "" if is_blank(room) else str(room).strip())
    if not drawn:
        mend = "measure a piece on Rooms" if is_blank(room) else "type a room of Rooms"
        kind = WaitsError if is_blank(room) else UnknownError
        error = kind("there is nothing to draw", mend, "Room")
        sheet.status = error.cell_text()
        return sheet.rows()
    if len(drawn) > PIECES:
        sheet.left_out.append(f"{len(drawn) - PIECES} more pieces: draw one room")
        drawn = drawn[:PIECES]
    try:
        poured, name = _poured(found, layer, turn)
    except PourbookError as error:
        poured, name = [], "outlines alone"
        sheet.status = error.cell_text()
    sheet.texts[TEXTS["layer"]] = name
    _draw(sheet, drawn, poured, system)
    sheet.texts[TEXTS["missing"]] = "; ".join(sheet.left_out)
    return sheet.rows()


def _poured(
    found: Sequence[Mix | mixes.Refused], layer: Value, turn: Value
) -> tuple[list[Mix], str]:
    """Return the batches of one pass of the layer to draw, and what it is."""
    numbers = sorted({one.layer_number for one in found})
    if not numbers:
        raise WaitsError("no layer is poured yet", "choose a finish on Start", "Layer")
    wanted = int(number(layer, "Layer", numbers[0]))
    if wanted not in numbers:
        what = f"the option has no layer {wanted}"
        raise InputError(what, f"type one of {numbers[0]} to {numbers[-1]}", "Layer")
    of_layer = [one for one in found if one.layer_number == wanted]
    made = [one for one in of_layer if isinstance(one, Mix)]
    refused = next((one for one in of_layer if isinstance(one, mixes.Refused)), None)
    if refused is not None:
        raise WaitsError(f"layer {wanted} cannot be planned", "see Batches", "Layer")
    passes = made[0].planned.passes
    which = int(number(turn, "Pass", 1.0))
    if not 1 <= which <= len(passes):
        raise InputError(f"it has no pass {which}", f"type 1 to {len(passes)}", "Pass")
    first = sum(len(one.batches) for one in passes[: which - 1])
    many = f", pass {which} of {len(passes)}" if len(passes) > 1 else ""
    name = f"Layer {wanted}, {made[0].planned.layer.name}{many}"
    return made[first : first + len(passes[which - 1].batches)], name


def _draw(
    sheet: _Sheet, drawn: Sequence[Drawn], poured: Sequence[Mix], system: units.System
) -> None:
    """Put pieces, batches, seams and joins on the page."""
    labels = _labels(drawn)
    boxes = [
        on_page.Boxed(
            *spans(piece.outline), piece.room.casefold(), len(label), tied=_tied(drawn, at)
        )
        for at, (piece, label) in enumerate(zip(drawn, labels, strict=True))
    ]
    try:
        placed = on_page.place(boxes)
    except PourbookError as error:
        sheet.status = error.cell_text()
        return
    sheet.texts[TEXTS["width"]] = (
        f"{units.show(on_page.WIDE / placed.scale, system.run, 1)} from edge to edge"
    )
    shapes: list[list[Outline]] = []
    for at, (piece, label, corner) in enumerate(zip(drawn, labels, placed.corners, strict=True)):
        sheet.texts[at * POINTS] = label
        loops = [
            [(x * placed.scale, y * placed.scale) for x, y in points]
            for points in (piece.outline, *piece.holes)
        ]
        shapes.append(loops)
        moved = [[(x + corner[0], y + corner[1]) for x, y in points] for points in loops]
        path = _path(moved)
        for n in range(POINTS):
            sheet.outlines[at * POINTS + n] = path[min(n, len(path) - 1)]
    _join(sheet, drawn, placed, boxes)
    _pour(sheet, drawn, poured, shapes, placed)


def _tied(drawn: Sequence[Drawn], at: int) -> bool:
    """Return whether a piece runs into the one drawn before it, in the same room."""
    if not at or drawn[at - 1].room.casefold() != drawn[at].room.casefold():
        return False
    return run_together(drawn[at - 1], drawn[at])


def _labels(drawn: Sequence[Drawn]) -> list[str]:
    """Return the names on the drawing; the first of a room says the room."""
    found = []
    for at, piece in enumerate(drawn):
        first = at == 0 or drawn[at - 1].room.casefold() != piece.room.casefold()
        found.append(f"{piece.room}: {piece.name}" if first and piece.room else piece.name)
    return found


def _path(loops: Sequence[Outline]) -> Outline:
    """Return one line round an outline and its cutouts, by way of an upright line to each."""
    path = list(loops[0])
    for hole in sorted(loops[1:], key=spans, reverse=True):
        if len(path) + len(hole) + _THERE_AND_BACK > POINTS:
            continue  # the lines still leave it free
        x, y = hole[0]
        above = [
            (y0 + (x - x0) * (y1 - y0) / (x1 - x0), at)
            for at, ((x0, y0), (x1, y1)) in enumerate(itertools.pairwise(path))
            if (x0 <= x) != (x1 <= x)
        ]
        foot, at = min(above, key=lambda one: abs(one[0] - y), default=(y, len(path) - 2))
        path[at + 1 : at + 1] = [(x, foot), *hole, (x, foot)]
    return path


def _pour(
    sheet: _Sheet,
    drawn: Sequence[Drawn],
    poured: Sequence[Mix],
    shapes: Sequence[Sequence[Outline]],
    placed: on_page.OnPage,
) -> None:
    """Hatch and number what each batch pours of each piece, and mark the seams."""
    shares: dict[Key, list[tuple[int, float]]] = defaultdict(list)
    for slot, mix in enumerate(poured):
        for share in mix.batch.shares:
            of = mix.planned.layer.pieces[share.piece]
            key = (of.room.casefold(), of.name.casefold())
            shares[key].append((min(slot, SLOTS - 1), share.volume))
    names = {one.key: one.name for one in drawn}
    for same, many in Counter(one.key for one in drawn).items():
        if many > 1 and same in shares:  # nobody could say which of them
            del shares[same]
            sheet.left_out.append(f"batches of '{names[same]}', a name {many} pieces have")
    for slot, mix in enumerate(poured[:SLOTS]):
        last = slot == SLOTS - 1 and len(poured) > SLOTS
        sheet.texts[slot * SLOT + _NUMBER] = f"{mix.number}{'+' if last else ''}"
        more = f"; and batches {mix.number + 1} to {poured[-1].number}" if last else ""
        sheet.texts[slot * SLOT + _BATCH] = f"{mix.pieces}{more}"
    apart = _FINEST
    for _ in range(_COARSEST):
        made = [
            hatch.hatched(loops, [volume for _, volume in shares.get(piece.key, ())], apart)
            for piece, loops in zip(drawn, shapes, strict=True)
        ]
        counts: dict[int, int] = defaultdict(int)
        for piece, lines in zip(drawn, made, strict=True):
            for line in lines:
                counts[shares[piece.key][line.share][0]] += 1
        if max(counts.values(), default=0) <= LINES:
            break
        apart *= _COARSER
    _hatch(sheet, drawn, made, shares, shapes, placed)


def _hatch(
    sheet: _Sheet,
    drawn: Sequence[Drawn],
    made: Sequence[Sequence[hatch.Stroke]],
    shares: Mapping[Key, Sequence[tuple[int, float]]],
    shapes: Sequence[Sequence[Outline]],
    placed: on_page.OnPage,
) -> None:
    lines: dict[int, list[tuple[float, float, float]]] = defaultdict(list)
    numbers: dict[int, list[tuple[float, float, float]]] = defaultdict(list)
    for piece, found, loops, (left, low) in zip(drawn, made, shapes, placed.corners, strict=True):
        for turn, (slot, _) in enumerate(shares.get(piece.key, ())):
            mine = [line for line in found if line.share == turn]
            lines[slot] += [(left + one.x, low + one.y, one.height) for one in mine]
            if mine:
                tall = max(one.height for one in mine) * _NEAR_TALLEST
                middle = mine[len(mine) // 2].x
                at = min((m for m in mine if m.height >= tall), key=lambda one: abs(one.x - middle))
                numbers[slot].append((left + at.x, low + at.y + at.height / 2, 0.0))
        for x in hatch.seams(found):
            crossed = hatch.across(loops, x)
            lines[_SEAMS] += [(left + x, low + foot, height) for foot, height in crossed]
    for slot, some in lines.items():
        sheet.put(slot, some, 0, SLOT if slot == _SEAMS else LINES)
    for slot, some in numbers.items():
        sheet.put(slot, some, LINES, NUMBERS)


def _join(
    sheet: _Sheet, drawn: Sequence[Drawn], placed: on_page.OnPage, boxes: Sequence[on_page.Boxed]
) -> None:
    """Mark what runs into each other: a level line between neighbours, else in words."""
    found = []
    for at, piece in enumerate(drawn):
        for other in range(at + 1, len(drawn)):
            if not run_together(piece, drawn[other]):
                continue
            if (
                not (other == at + 1 and _tied(drawn, other))
                or placed.rows[at] != placed.rows[other]
            ):
                sheet.left_out.append(f"{piece.name} runs into {drawn[other].name}")
                continue
            right = placed.corners[at][0] + boxes[at].wide * placed.scale
            least = min(boxes[at].high, boxes[other].high) * placed.scale
            top = placed.corners[at][1] + boxes[at].high * placed.scale
            found.append((right, top - least / 2, placed.corners[other][0] - right))
    sheet.put(_JOINS, found, 0, SLOT)


ARGUMENTS = (
    *batches.ARGUMENTS[:10],
    Argument("layer", "number", "the layer to draw; the first if blank", optional=True),
    Argument("turn", "number", "which pass of it; the first if blank", optional=True),
    Argument("room", "text", "the room to draw; all if blank", optional=True),
)


def _example() -> tuple[tuple[Value, ...], ...]:
    """Return a top of 4 m by 0.5 m, poured in two halves: 84 lines, 42 for each.

    It is as wide as the page, so that a metre is 25 hundredths.
    """
    wide, high = on_page.WIDE, 0.5 * on_page.WIDE / 4
    top = on_page.HIGH - on_page.ABOVE
    low = top - high
    corners = [(wide / 2, top), (0.0, top), (0.0, low), (wide, low), (wide, top)]
    path = [*corners, *[(wide / 2, top)] * (POINTS - len(corners))]
    strokes = [((at + 0.5) * wide / 84, low, high) for at in range(84)]
    lines = {
        **{slot * SLOT + at: strokes[slot * 42 + at] for slot in (0, 1) for at in range(42)},
        LINES: (strokes[21][0], low + high / 2, 0.0),
        SLOT + LINES: (strokes[42 + 21][0], low + high / 2, 0.0),
        _SEAMS * SLOT: (wide / 2, low, high),
    }
    texts = {0: "Bar: Top", _NUMBER: "1", SLOT + _NUMBER: "2"}
    texts |= {TEXTS["layer"]: "Layer 1, Flood", TEXTS["width"]: "4.0 m from edge to edge"}
    texts |= {at * SLOT + _BATCH: f"Top, part {at + 1} of 2, wet into wet" for at in (0, 1)}
    return tuple(
        (
            "" if at else OK,
            texts.get(at, ""),
            *(path[at] if at < POINTS else (ASIDE, ASIDE)),
            *lines.get(at, (ASIDE, ASIDE, 0.0)),
        )
        for at in range(ROWS)
    )


PB_DRAWING = Function(
    name="PB_DRAWING",
    summary="The points of a drawing of all pieces to scale, by the batches of one layer.",
    arguments=ARGUMENTS,
    result=f"{ROWS} rows of points in hundredths of the page's width, for a chart to draw",
    valid=f"up to {PIECES} pieces and {SLOTS} batches of a pass; where a cutout lies is not known",
    source="plane geometry; the areas are those of PB_ROOMS",
    examples=(Example(batches.EXAMPLE_ARGUMENTS, _example()),),
    compute=compute,
    columns=RESULTS,
    rows=ROWS,
)

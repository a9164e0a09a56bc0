"""Every check of the Checks sheet fires on a planted fault, and on nothing else.

A fault is planted where a person would make it: in an entry. For the checks that hold an identity
over computed cells, a computed cell is typed over, because no entry can break an identity. A check
that has no fault here fails the test of completeness.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from pathlib import Path

import openpyxl
import pytest
from openpyxl.worksheet.formula import ArrayFormula
from tests.open_book import OpenBook
from tests.workbook.checks_said import fired, overall, required, wanted

from pourbook.cells import Address, Value
from pourbook.hosts import headless
from pourbook.job.make import Scenario
from pourbook.workbook.check import quoted
from pourbook.workbook.layout.laid_out import Layout
from pourbook.workbook.read.read import read_book
from pourbook.workbook.template.template import load_book

Entries = Mapping[tuple[str, str, int], object]
Bare = Callable[[Layout, Entries], Path]


@dataclass(frozen=True)
class Fault:
    """What is changed, and which checks must say so.

    ``entries`` are typed over the demo's (None clears a cell); ``typed_over`` is a computed cell
    (block, field, index) that gets ``by`` added to it, or becomes that text. ``moved`` is a range
    and what a program makes of it in every formula when its edge is cut. ``fires`` names every
    check that must fire: the one under test, and those that cannot hold once it does not. ``at``
    is how far the demo has come: ``quoted``, ``accepted`` or ``logged`` (accepted, then mixed,
    bought and counted as its scenario says, so that Settle works).
    """

    check: str
    what: str
    entries: tuple[tuple[tuple[str, str, int], object], ...] = ()
    typed_over: tuple[str, str, int] | None = None
    by: float | str = 1.0
    moved: tuple[str, str] = ("", "")
    also: tuple[str, ...] = ()
    at: str = "quoted"

    @property
    def fires(self) -> set[str]:
        """Return every check that must fire."""
        return {self.check, *self.also}


def _row(
    block: str, index: int, **cells: object
) -> tuple[tuple[tuple[str, str, int], object], ...]:
    return tuple(((block, name, index), value) for name, value in cells.items())


_SPARE = {
    "product": "Spare",
    "parts": 2,
    "basis": "volume",
    "ratio": "1:1",
    "density_a": "1.1 kg/L",
    "density_b": "1.0 kg/L",
    "solids": 1,
}
_THIRD = {
    "option": "C",
    "layer": "Extra",
    "product": "Binder",
    "method": "roll",
    "surfaces": "top",
    "spread": "300 g/m²",
}

_SCAN = "(01)02000000000412(17)270705(10)R-0119"  # the check digit is 1


def _at(day: int, hour: int, minute: int = 0) -> dt.datetime:
    return dt.datetime(2027, 1, day, hour, minute)


def _moved(
    row: int, started: dt.datetime, ended: dt.datetime
) -> tuple[tuple[tuple[str, str, int], object], ...]:
    return _row("log", row, started=started, ended=ended)


_BATCH = _row(
    "log",
    0,
    layer="Tinted base",
    started=_at(12, 8, 31),
    ended=_at(12, 9, 4),
    lot_a="T-0588",
    lot_b="T-0588",
    mass_a=1086,
    mass_b=939,
    air=70,
    surface=68,
    humidity=0.45,
    wet=18.5,
)
_NO_FIFTH_BATCH = tuple(
    ((block, name, 4), None) for (block, name, _), _ in (*_BATCH, *_row("log", 4, batch=None))
)
_RENAMED = (
    (("working", "name", 3), "Other top"),
    *(
        ((block, "product", i), "Other top")
        for block, rows in {
            "products": (3,),
            "layers": (2, 6),
            "packs": (7, 8),
            "tests": range(4),
        }.items()
        for i in rows
    ),
)
_PACK = ("product", "holds", "contents", "price", "shelf_life", "most")

FAULTS = (
    Fault("live", "functions of another version", typed_over=("overall", "live", 0), by="0.0.1"),
    Fault(
        "proof",
        "a board softer than agreed",
        entries=((("tests", "reading", 0), "2B"),),
    ),
    Fault(
        "proof",
        "a test made the day after the last coat",
        entries=((("tests", "tested", 1), dt.datetime(2026, 11, 26, 10, 0)),),
    ),
    Fault("named", "no name", ((("start", "job", 0), None),)),
    Fault("sundries_priced", "a sundry without a price", ((("sundries", "each", 1), None),)),
    Fault("finishes", "a row of no finish", ((("finish_layers", "finish", 9), "sprayed"),)),
    Fault("figures", "a product as usual", ((("products", "figures", 0), "usual"),)),
    Fault("start", "no currency", ((("money", "currency", 0), None),)),
    Fault("start", "no tax rate", ((("money", "tax", 0), None),), also=("rates",)),
    Fault("dates", "ends before it is made", ((("start", "until", 0), dt.date(2026, 11, 23)),)),
    Fault(
        "rooms",
        "a piece without a size in a room no layer coats",
        (
            *_row("rooms", 17, room="Garage", piece="Bench", a=10),
            *((("layers", "rooms", i), "Kitchen; Bar; Bath") for i in range(7)),
        ),
    ),
    Fault("surfaces", "a total typed over", typed_over=("measured", "total", 0)),
    Fault("surfaces", "a total of tops typed over", typed_over=("measured", "top", 0)),
    Fault("products", "a ratio missing", _row("products", 4, **{**_SPARE, "ratio": None})),
    Fault(
        "products",
        "a name twice",
        _row("products", 4, **{**_SPARE, "product": "binder"}),
        also=("layers", "packs"),
    ),
    Fault("layers", "a spread without sense", _row("layers", 6, **{**_THIRD, "spread": "5 kg"})),
    Fault("layers", "a room that is not there", _row("layers", 6, **_THIRD, rooms="Attic")),
    Fault(
        "batches",
        "a batch that spoils before it is mixed",
        ((("working", "pot_life", 1), 1),),
        also=("layers", "days"),
    ),
    Fault(
        "batches",
        "a batch no scale weighs as closely as its product asks",
        ((("working", "tolerance", 1), 1e-6),),
    ),
    Fault("batches_mixed", "a batch typed over", typed_over=("batches", "mixed", 1), by=0.01),
    Fault(
        "cards",
        "more batches than cards",
        (
            (("doing", "bucket", 1), "0.2 US gal"),
            *((("rooms", "may_split", i), "yes") for i in range(17)),
        ),
        also=("heated",),
    ),
    Fault("losses", "a net amount typed over", typed_over=("amounts", "net", 0)),
    Fault("losses", "a loss typed over", typed_over=("amounts", "loss", 2), by=0.01),
    Fault(
        "parts",
        "a part typed over",
        typed_over=("parts", "volume_b", 1),
        by=0.01,
        also=("bought",),  # what is bought follows the parts
    ),
    Fault("temperature", "too cold", ((("site", "temperature", 0), 64.0),), also=("air",)),
    Fault("temperature", "too warm", ((("products", "warmest", 0), 69.0),), also=("air", "survey")),
    Fault("humidity", "too damp", ((("site", "humidity", 0), 0.71),), also=("air",)),
    Fault(
        "labour",
        "no step of labour",
        (
            *((("labour", name, i), None) for i in range(8) for name in ("step", "per", "hours")),
            *((("survey", "prep_hours", i), None) for i in range(3)),
            (("rates", "paid_by", 0), "steps alone"),
        ),
        also=("visits",),
    ),
    Fault(
        "visits", "fewer hours by step than on site", ((("rates", "paid_by", 0), "Steps alone"),)
    ),
    Fault(
        "additives",
        "no flakes to buy",
        tuple(
            (("additives", name, 4), None)
            for name in ("additive", "serves", "pack", "pack_price", "left")
        ),
    ),
    Fault("additives", "no pack of the white", ((("additives", "pack", 0), None),)),
    Fault("additives", "flakes by the litre", ((("additives", "pack", 4), "20 L"),)),
    Fault("gates", "no word on lead", ((("gates", "lead", 0), None),)),
    Fault("gates", "nobody named who disconnects", ((("gates", "by_whom", 0), None),)),
    Fault("gates", "an answer that is none", ((("gates", "gas", 0), "off"),)),
    Fault("gates", "an old coating nobody tested", ((("survey", "substrate", 0), "old coating"),)),
    Fault("heat", "a limit a large batch passes", ((("kinetics", "hottest", 0), 100),)),
    Fault(
        "layers",
        "an effect without its minutes",
        ((("doing", "effect", 1), "veining"),),
        also=("batches", "days"),
    ),
    Fault("kinetics", "constants of a mix that cures at once", ((("kinetics", "a1", 0), 1e7),)),
    Fault(
        "kinetics",
        "constants of a mix that takes hours",
        ((("kinetics", "a1", 0), 1e4), (("kinetics", "a2", 0), 1e6)),
    ),
    Fault("heat", "kinetics without a source", ((("kinetics", "source", 0), None),)),
    Fault(
        "heat",
        "kinetics of no product",
        _row("kinetics", 1, heat=350, specific=1.9, a1=1, e1=50, n=1, loss=8, source="x"),
    ),
    Fault(
        "joins",
        "a piece spread from batches half an hour apart",
        ((("doing", "joined", 1), 0.02),),
    ),
    Fault("pass_film", "a flood coat too deep", ((("working", "thickest", 1), "30 mil"),)),
    Fault("pass_film", "a top coat too thin", ((("working", "thinnest", 3), "20 mil"),)),
    Fault("heated", "passes of five minutes", ((("pace", "heat_pass", 0), 5),)),
    Fault("packs", "a pack that holds nothing", ((("packs", "contents", 4), 0),)),
    Fault("packs", "a pack below nothing", ((("packs", "price", 4), -1),)),
    Fault("packs", "a pack of no product", _row("packs", 9, holds="kit", contents=1, price=9)),
    Fault(
        "packs",
        "stock of a part that is not there",
        ((("stock", "holds", 0), "C"),),
    ),
    Fault("packs", "stock that expires on no date", ((("stock", "expiry", 2), "soon"),)),
    Fault(
        "packs",
        "a product without a pack",
        tuple((("packs", name, row), None) for row in (2, 3) for name in _PACK),
    ),
    Fault(
        "packs",
        "too few packs to be had",
        ((("packs", "most", 0), 0), (("packs", "most", 1), 0)),
    ),
    Fault("bought", "a need typed over", typed_over=("buying", "need_a", 0), by=0.01),
    Fault("bought", "a need of option B typed over", typed_over=("buying", "need_b", 2), by=0.01),
    Fault("bought", "less bought than needed", typed_over=("buying", "spare", 0), by=-1.0),
    Fault("bought", "a pack's cost typed over", typed_over=("packs", "pack_cost", 1)),
    Fault("rates", "no labour rate", ((("rates", "labour", 0), None),), also=("option",)),
    Fault("rates", "a word for a margin", ((("rates", "uplift", 0), "some"),), also=("option",)),
    Fault("rates", "no overhead basis", ((("rates", "overhead_on", 0), ""),), also=("option",)),
    Fault(
        "option",
        "an option without layers",
        ((("rates", "option", 0), "C"),),
        also=("days", "batches"),
    ),
    Fault("option", "no option", ((("rates", "option", 0), None),), also=("days", "batches")),
    Fault("price", "a profit typed over", typed_over=("price", "profit", 0)),
    Fault("price", "a cost typed over", typed_over=("price", "cost", 1)),
    Fault("profit", "a markup below nothing", ((("rates", "uplift", 0), -0.1),)),
    Fault("replace", "from above to", ((("rates", "replace_low", 0), 121),)),
    Fault("survey", "a slab too damp", ((("readings", "reading", 0), 76),), also=("gates",)),
    Fault("survey", "a coating that lifts", ((("readings", "reading", 3), "3B"),)),
    Fault("survey", "a reading without a limit", ((("readings", "limit", 0), None),)),
    Fault("survey", "a surface at the dew point", ((("onsite", "surface", 0), 48.0),)),
    Fault("survey", "humidity over 100 %", ((("onsite", "air_humidity", 0), 1.4),)),
    Fault("promised", "a day too early", ((("site", "promised", 0), dt.date(2027, 1, 16)),)),
    Fault("days", "no sanding pace", ((("pace", "sand", 0), None),), also=("option",)),
    Fault(
        "days",
        "no earliest recoat time",
        ((("working", "recoat_from", 0), None),),
        also=("option",),
    ),
    Fault("days", "no day is long enough", ((("site", "work_to", 0), 9.0),), also=("option",)),
    Fault(
        "options",
        "no earliest recoat time of a product that only option B has",
        ((("working", "recoat_from", 2), None),),
    ),
    Fault("options", "a status typed over", typed_over=("options", "option_status", 1), by="! a"),
    Fault("log", "a layer that is not there", ((("log", "layer", 0), "Attic"),), at="logged"),
    Fault("log", "spread before it was mixed", ((("log", "ended", 0), _at(11, 9)),), at="logged"),
    Fault("log", "a scanned code with a wrong digit", ((("log", "lot_a", 8), _SCAN),), at="logged"),
    Fault("looks", "a look that is a refusal", typed_over=("looks", "look_status", 3), by="! a"),
    Fault(
        "lots",
        "a lot used before it was bought",
        ((("receipts", "date", 3), dt.date(2027, 1, 16)),),
        at="logged",
    ),
    *(
        Fault("receipts", what, ((("receipts", name, 1), value),), also=("issued",), at="logged")
        for what, name, value in (
            ("in another currency", "currency", "EUR"),
            ("of no product", "product", "Varnish"),
            ("of another kind", "kind", "lent"),
            ("without a price", "price", None),
            ("without a date", "date", None),
            ("below nothing", "packs", -1),
            ("of nothing", "contents", 0),
        )
    ),
    Fault("used", "no limit of the film", ((("limits", "film_off", 0), None),)),
    Fault("used", "an account without a name", ((("accounts", "waste", 0), None),)),
    Fault("counted", "of no product", ((("left", "product", 1), "Varnish"),), at="logged"),
    Fault("counted", "below nothing", ((("left", "rest", 1), -1),), at="logged"),
    Fault("counted", "gone nowhere", ((("left", "goes", 1), "lent"),), at="logged"),
    Fault("issued", "more left than issued", ((("left", "rest", 2), 0.76),), at="logged"),
    Fault("issued", "more mixed than issued", ((("receipts", "contents", 3), 0.69),), at="logged"),
    Fault(
        "issued",
        "sent back after it was used",
        ((("receipts", "kind", 3), "sent back"),),
        also=("invoices",),  # it is another invoice then
        at="logged",
    ),
    Fault("invoices", "a cent apart", ((("invoices", "total", 0), 1084.27),), at="logged"),
    Fault("invoices", "without a total", ((("invoices", "total", 0), None),), at="logged"),
    Fault("invoices", "a line of no invoice", ((("extras", "document", 1), "Q-2"),), at="logged"),
    Fault("invoices", "a line of no kind", ((("extras", "kind", 1), "gift"),), at="logged"),
    Fault("worked", "a step nobody quoted", ((("worked", "worked_step", 1), "Sing"),), at="logged"),
    Fault("worked", "hours that are none", ((("worked", "hours", 1), -1),), at="logged"),
    Fault("air", "nights too cold for a coat to harden", ((("site", "night", 0), 55.0),)),
    Fault("air", "no humidity", ((("site", "humidity", 0), None),)),
    Fault("air", "a cold surface", ((("pace", "surface", 0), 50.0),)),
    Fault(
        "accepted",
        "a batch logged on a quote nobody accepted",
        _BATCH,
        also=("issued",),  # nothing was bought for it either
    ),
    Fault(
        "accepted",
        "a receipt on a quote nobody accepted",
        _row(
            "receipts",
            0,
            date=dt.date(2027, 1, 8),
            document="17",
            kind="bought",
            holds="kit",
            product="Tint base",
            packs=1,
            contents=3,
            price=228,
        ),
    ),
    Fault(
        "accepted",
        "a rest counted on a quote nobody accepted",
        _row(
            "left", 0, date=dt.date(2027, 1, 18), product="Tint base", rest=0.1, goes="thrown away"
        ),
        also=("issued",),  # nothing was bought that could be left
    ),
    Fault(
        "tables",
        "the first area cut, as Excel moves the range",
        moved=("Used!$C$232:$C$243", "Used!$C$233:$C$243"),
    ),
    Fault("words", "a word that is an error", typed_over=("words", "words_status", 3), by="! a"),
    Fault(
        "accepted_days",
        "accepted after the quote ended",
        ((("start", "until", 0), dt.date(2026, 11, 30)),),
        also=("unchanged",),
        at="logged",
    ),
    Fault(
        "accepted_days",
        "a rest counted in 2072",
        ((("left", "date", 0), dt.date(2072, 1, 18)),),
        at="logged",
    ),
    Fault(
        "unchanged",
        "more to prepare",
        ((("survey", "prep_hours", 0), 9), (("pace", "prepare", 0), 30)),
        at="accepted",
    ),
    Fault("unchanged", "dearer labour", ((("rates", "labour", 0), 50),), at="accepted"),
    Fault("unchanged", "another option", ((("rates", "option", 0), "B"),), at="accepted"),
    Fault(
        "unchanged",
        "more mix, from the same packs",
        ((("doing", "batch_loss", 2), "2.1 US fl oz"),),
        at="accepted",
    ),
    Fault(
        "unchanged",
        "other solids, which no price rests on",
        ((("products", "solids", 0), 0.97),),
        at="accepted",
    ),
    Fault(
        "unchanged",
        "another product at the same price",
        _RENAMED,
        at="accepted",
    ),
    Fault(
        "settle_split",
        "a difference typed over",
        typed_over=("settle_sums", "area", 0),
        also=("settle_journal",),  # it books the differences
        at="logged",
    ),
    Fault(
        "settle_receipts",
        "what was used typed over",
        typed_over=("settle_money", "actual", 0),
        also=("settle_waste",),  # waste is what is left of it
        at="logged",
    ),
    Fault("settle_journal", "a debit typed over", typed_over=("journal", "debit", 0), at="logged"),
    Fault(
        "settle_waste",
        "a rate typed over: no residual, since waste takes what is left",
        typed_over=("settle_money", "rate", 0),
        at="logged",
    ),
    Fault(
        "settle_waste",
        "waste typed over by 3 cents",
        typed_over=("settle_rates", "own_waste", 0),
        by=0.03,
        at="logged",
    ),
    Fault(
        "settle_products",
        "a quoted product renamed wherever it is typed",
        (
            *_RENAMED,
            *(((block, "product", i), "Other top") for block, i in (("receipts", 3), ("left", 2))),
        ),
        also=("unchanged",),  # the quote still names the old one
        at="logged",
    ),
    Fault("settle_unexplained", "a batch not logged", _NO_FIFTH_BATCH, at="logged"),
    Fault(
        "settle_unexplained",
        "more counted than the log leaves",
        ((("left", "rest", 0), 1.2),),
        at="logged",
    ),
    Fault(
        "closed",
        "closed with nothing booked",
        ((("closings", "what", 0), "closed"), (("closings", "no", 0), 1.0)),
        at="logged",
    ),
    Fault("settle_unexplained", "no limit", ((("settle_state", "unexplained", 0), None),)),
)


def _ids() -> list[str]:
    return [c.id for c in load_book("job").block("checks").checks]


def _typed_over(
    layout: Layout, fault: Fault, sound: Mapping[Address, Value]
) -> dict[Address, Value]:
    """Return one computed cell typed over; the array it belongs to becomes values, as it must."""
    assert fault.typed_over is not None
    cell = layout.cell(*fault.typed_over)
    block = [c for c in layout.cells if c.fill == cell.fill] if cell.fill else []
    over = {(c.sheet, c.address): sound[c.sheet, c.address] for c in block}
    before = sound[cell.sheet, cell.address]
    if isinstance(fault.by, str):
        return {**over, (cell.sheet, cell.address): fault.by}
    assert isinstance(before, float)
    return {**over, (cell.sheet, cell.address): before + fault.by}


def _type_over(path: Path, over: Mapping[Address, Value]) -> None:
    book = openpyxl.load_workbook(path)
    for (sheet, address), value in over.items():
        book[sheet][address] = value
    book.save(path)


def _move(path: Path, before: str, after: str) -> None:
    """Change a range in every formula."""
    book = openpyxl.load_workbook(path)
    count = 0
    for cell in (c for page in book for row in page.iter_rows() for c in row):
        formula = cell.value.text if isinstance(cell.value, ArrayFormula) else cell.value
        if isinstance(formula, str) and formula.startswith("=") and before in formula:
            count += 1
            formula = formula.replace(before, after)
            array = isinstance(cell.value, ArrayFormula)
            cell.value = ArrayFormula(cell.value.ref, formula) if array else formula
    assert count > 1
    book.save(path)


def _recompute(path: Path, layout: Layout, engine: str) -> Mapping[Address, Value]:
    done = headless.engine(engine).recompute(path, wanted(layout))
    assert not done.reasons
    return done.values


@pytest.fixture(scope="module")
def sound(open_us: OpenBook, scenario_us: Scenario) -> dict[Address, Value]:
    """The values of the untouched demo."""
    return open_us.values(scenario_us.entries)


@pytest.fixture(scope="module")
def accepted(accepted_us: Path, plan_us: Layout) -> Entries:
    """What accepting the demo's quote wrote."""
    return quoted.kept(plan_us, read_book(accepted_us))


@pytest.fixture(scope="module")
def more(accepted: Entries, logged_us: Scenario, scenario_us: Scenario) -> Mapping[str, Entries]:
    """The entries each state adds to those of the quoted demo."""
    log = {k: v for k, v in logged_us.entries.items() if k not in scenario_us.entries}
    return {"quoted": {}, "accepted": accepted, "logged": {**accepted, **log}}


@pytest.fixture(scope="module")
def sounds(
    more: Mapping[str, Entries], scenario_us: Scenario, open_us: OpenBook
) -> Mapping[str, dict[Address, Value]]:
    """The values of the demo in each state, without a fault."""
    return {
        state: open_us.values({**scenario_us.entries, **added}) for state, added in more.items()
    }


@pytest.mark.parametrize("state", ["quoted", "accepted", "logged"])
def test_demo_says_ok_for_all(
    state: str, plan_us: Layout, sounds: Mapping[str, dict[Address, Value]]
) -> None:
    assert fired(plan_us, sounds[state]) == set()
    assert overall(plan_us, sounds[state]) == "OK"
    cell = plan_us.cell("settle_state", "state")
    said = sounds[state][cell.sheet, cell.address]
    assert (said == "ok") == (state == "logged")


@pytest.mark.parametrize("check", _ids())
def test_every_check_has_a_planted_fault(check: str) -> None:
    assert check in {f.check for f in FAULTS}, f"plant a fault for the check '{check}'"


def test_no_fault_names_a_check_that_is_gone() -> None:
    assert {name for f in FAULTS for name in f.fires} <= set(_ids())


def test_untouched_twin_says_ok_for_all(
    plan_metric: Layout, scenario_metric: Scenario, open_metric: OpenBook
) -> None:
    values = open_metric.values(scenario_metric.entries)
    assert fired(plan_metric, values) == set()
    assert overall(plan_metric, values) == "OK"


@pytest.mark.in_turn
@pytest.mark.parametrize("fault", FAULTS, ids=lambda f: f"{f.check}: {f.what}")
def test_fault_fires_its_check(
    fault: Fault,
    plan_us: Layout,
    scenario_us: Scenario,
    open_us: OpenBook,
    write_bare: Bare,
    more: Mapping[str, Entries],
    sounds: Mapping[str, dict[Address, Value]],
) -> None:
    values: Mapping[Address, Value]
    base: Entries = {**scenario_us.entries, **more[fault.at]}
    if fault.moved[0]:
        path = write_bare(plan_us, base)
        _move(path, *fault.moved)
        values = _recompute(path, plan_us, "fast")
    elif fault.typed_over:
        values = open_us.values(base, _typed_over(plan_us, fault, sounds[fault.at]))
    else:
        values = open_us.values({**base, **dict(fault.entries)})
    assert fired(plan_us, values) == fault.fires
    first = next(c for c in plan_us.block("checks").checks if c.id in fault.fires)
    words = f"CHECK: {first.sheet}, {len(fault.fires)} to fix"
    assert overall(plan_us, values) == words
    for sheet in plan_us.book.sheets:
        tops = [
            values[c.sheet, c.address]
            for c in plan_us.cells
            if c.sheet == sheet.sheet and c.role == "check" and not c.block
        ]
        assert tops == [words], f"at the top of {sheet.sheet}"


@pytest.mark.plain
def test_fault_fires_in_the_plain_engine_too(
    plan_us: Layout, scenario_us: Scenario, sound: dict[Address, Value], write_bare: Bare
) -> None:
    fault = next(f for f in FAULTS if f.check == "losses")
    path = write_bare(plan_us, scenario_us.entries)
    _type_over(path, _typed_over(plan_us, fault, sound))
    values = _recompute(path, plan_us, "plain")
    assert fired(plan_us, values) == fault.fires
    assert overall(plan_us, values) == "CHECK: Amounts, 1 to fix"


@pytest.mark.parametrize("key", required("job"), ids=lambda key: f"{key[0]}.{key[1]}")
def test_required_entry_left_blank_is_noticed(
    key: tuple[str, str, int],
    plan_us: Layout,
    scenario_us: Scenario,
    open_us: OpenBook,
) -> None:
    """A blank is 0 to a formula: without a check the price is too low and says nothing of it."""
    values = open_us.values({**scenario_us.entries, key: None})
    assert overall(plan_us, values) != "OK", f"nothing misses {key[0]}.{key[1]}"


def test_total_run_over_an_unmeasured_piece_is_no_number(
    plan_us: Layout, scenario_us: Scenario, open_us: OpenBook
) -> None:
    """Labour by edge run must not pass over a piece that is still to be mended."""
    bench = _row("rooms", 17, room="Garage", piece="Bench", a=10, edge_run="9 ft", edge_height=1)
    kept = {("layers", "rooms", i): "Kitchen; Bar; Bath" for i in range(7)}
    entries = {**scenario_us.entries, **dict(bench), **kept}
    values = open_us.values(entries)
    cell = plan_us.cell("quant", "edge_run")
    assert str(values[cell.sheet, cell.address]).startswith("! ")


@pytest.mark.parametrize(
    ("entries", "top", "cause"),
    [
        (
            {("rooms", "a", 2): "25 oz"},
            "CHECK: Rooms, ",
            "Rooms, row 3 of its table: ! Size A",
        ),
        (
            {("working", "pot_life", 0): None},
            "CHECK: ",
            "Layers, row 1 of its table: ! Pot life of Tint base: it is blank",
        ),
        ({("start", "job", 0): None}, "CHECK: Quote, 1 to fix", "does not hold: The job has"),
    ],
)
def test_the_cause_is_named_once_at_the_top_and_on_checks(
    entries: Entries,
    top: str,
    cause: str,
    plan_us: Layout,
    scenario_us: Scenario,
    open_us: OpenBook,
) -> None:
    values = open_us.values({**scenario_us.entries, **entries})
    assert str(overall(plan_us, values)).startswith(top)
    cell = plan_us.cell("overall", "first")
    assert str(values[cell.sheet, cell.address]).startswith(cause)

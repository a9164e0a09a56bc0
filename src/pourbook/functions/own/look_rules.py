"""What can be worked out and is seldom meant: each look with the usual band and what may be meant.

Contract: :func:`seen` names every entry outside its band, and what a row of the log says to look
at; an entry that cannot be read is another's to refuse and gives no look. The bands are common
practice, no source. A look's name holds the figure it is about, so another figure is another look.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Iterator, Mapping, Sequence

from pourbook import units
from pourbook.cells import Value, in_figures, is_blank, number, text, word
from pourbook.dates import from_serial
from pourbook.errors import FAILED, PourbookError
from pourbook.functions.own.entered import digest
from pourbook.records import dataclass
from pourbook.tables import reading
from pourbook.tables.measured import FILLS
from pourbook.trade import filling

LONGEST = 100
"""The longest name of a look; a longer one is cut and ends in its digest."""
DEEPEST, LONGEST_DEPTH = 5 * 0.3048, 12 * 0.3048
"""Neither side of a top is less than 5 ft, or its second more than 12 ft: seldom meant."""
TOPS = ("bar", "bench", "counter", "desk", "island", "shelf", "sill", "table", "top", "vanity")
_LAST_DAY = 2958465  # 31 December 9999 as a spreadsheet counts days
SANDED = "sand 220 and clean"
OLD = "old coating"
_RECTANGLES = ("", "rectangle")
_FILLED = {*filling.FILLS, filling.MOULD}
LOW_LOSS, HIGH_LOSS = 0.01, 0.3
LOW_SOLIDS = 0.1
LOW_MARGIN, HIGH_MARGIN, HIGH_MARKUP = 0.05, 0.7, 2.5
LOW_OVERHEAD, LOW_TAX, HIGHEST_TAX = 0.01, 0.01, 0.3

Row = Mapping[str, Value]


@dataclass(frozen=True)
class Look:
    """Something to look at.

    ``entry`` is block, column and row (from 0) of the cell it is about; ``where`` says it in words.
    """

    name: str
    entry: tuple[str, str, int]
    where: str
    usual: str = ""
    meant: str = ""


@dataclass(frozen=True)
class Seen:
    """What is typed in a job, row by row, and what its log was judged to be."""

    rooms: Sequence[Row]
    layers: Sequence[Row]
    products: Sequence[Row]
    working: Sequence[Row]
    survey: Sequence[Row]
    rates: Row
    labour: Sequence[Row]
    tax: Value
    log: Sequence[Row]
    verdicts: Sequence[Value]
    reasons: Sequence[Value]
    issued: Sequence[Row]
    counted: Sequence[Value]
    system: units.System


def seen(job: Seen) -> list[Look]:
    """Return every look of a job, sheet by sheet."""
    return [look for rule in _RULES for look in rule(job)]


def _named(words: str) -> str:
    """Return a name of a look that fits a cell."""
    whole = text(words)
    return whole if len(whole) <= LONGEST else f"{whole[:LONGEST]}... {digest([whole])[:4]}"


def _share(value: Value) -> float | None:
    """Return a share that is typed; nothing if it is blank, 0 or no number."""
    try:
        found = number(value, "", 0.0)
    except PourbookError:
        return None
    return found or None


def _percent(share: float) -> str:
    return f"{share * 100:.4g} %"


def _or(share: float) -> str:
    """Say what a share far too small may mean."""
    return f"{share * 1e4:.4g} % may be meant" if share * 100 < 1 else "a digit may be missing"


def _at(sheet: str, row: int) -> str:
    return f"{sheet}, row {row + 1} of its table"


def _twice(job: Seen) -> Iterator[Look]:
    groups: dict[tuple[str, ...], list[int]] = defaultdict(list)
    for index, row in enumerate(job.rooms):
        if not is_blank(row["piece"]):
            key = tuple(word(row[name]) for name in ("room", "piece", "shape", *"abcd"))
            groups[key].append(index)
    for rows in groups.values():
        if len(rows) > 1:
            row, at = job.rooms[rows[0]], rows[1]
            sizes = " x ".join(text(row[letter]) for letter in "abcd" if not is_blank(row[letter]))
            name = f"{text(row['room'])}, {text(row['piece'])} ({sizes}) stands {len(rows)} times"
            yield Look(
                _named(name),
                ("rooms", "piece", at),
                _at("Rooms", at),
                "one row, with How many",
                "typed twice, or pieces of one name",
            )


def _depth(job: Seen) -> Iterator[Look]:
    for index, row in enumerate(job.rooms):
        piece = f"{text(row['room'])}, {text(row['piece'])}"
        words = piece.casefold().replace(",", " ").split()
        is_top = any(w in TOPS or w.removesuffix("s") in TOPS for w in words)
        is_top |= not (is_blank(row["edge_run"]) and is_blank(row["splash_run"]))
        if not is_top or "floor" in words or word(row["shape"]) not in _RECTANGLES:
            continue
        system = job.system
        try:
            long, deep = (
                reading.labelled(row[letter], "length", letter, system.length, system.fluids)
                for letter in "ab"
            )
        except PourbookError:
            continue
        if min(long, deep) > DEEPEST or deep > LONGEST_DEPTH:
            usual = units.show(DEEPEST, system.run, 1)
            yield Look(
                _named(f"{piece} is {_size(row['a'], system)} by {_size(row['b'], system)}"),
                ("rooms", "b", index),
                _at("Rooms", index),
                f"no top is more than {usual} deep",
                "another unit may be meant, inches or mm",
            )


def _size(value: Value, system: units.System) -> str:
    """Return a size as it is meant: a bare number with its unit."""
    is_bare = not isinstance(value, str) or text(value)[-1:].isdigit()
    return f"{text(value)} {system.length}" if is_bare else text(value)


def _loss(job: Seen) -> Iterator[Look]:
    for index, row in enumerate(job.layers):
        loss = _share(row["loss"])
        if is_blank(row["layer"]) or loss is None or LOW_LOSS <= loss <= HIGH_LOSS or loss >= 1:
            continue
        meant = _or(loss) if loss < LOW_LOSS else f"{_percent(loss / 10)} may be meant"
        yield Look(
            _named(f"Loss of {text(row['layer'])}: {_percent(loss)}"),
            ("layers", "loss", index),
            _at("Layers", index),
            "5 to 12 % poured, 10 to 15 % rolled",
            meant,
        )


def _unfilled(job: Seen) -> Iterator[Look]:
    """Name the first of what is to be filled, where no layer of any option fills."""
    layers = [row for row in job.layers if not is_blank(row["layer"])]
    if not layers or any(word(row["surfaces"]) == FILLS for row in layers):
        return
    rows = (n for n, row in enumerate(job.rooms) if word(row["shape"]) in _FILLED)
    for index in list(rows)[:1]:
        yield Look(
            _named(f"{text(job.rooms[index]['piece'])} is to be filled, and no layer fills"),
            ("rooms", "shape", index),
            _at("Rooms", index),
            "what is hollow has a layer whose Surfaces are fills",
            "such a layer on Layers, or no row here",
        )


def _unsanded(job: Seen) -> Iterator[Look]:
    for survey in job.survey:
        if word(survey["substrate"]) != OLD:
            continue
        room, begun = word(survey["survey_room"]), set()
        for index, row in enumerate(job.layers):
            option, only = word(row["option"]), [word(r) for r in text(row["rooms"]).split(",")]
            if not option or option in begun or (any(only) and room not in only):
                continue
            begun.add(option)
            if word(row["before"]) != SANDED:
                name = f"{text(survey['survey_room'])}: {OLD}, and {text(row['layer'])} (option "
                name += f"{text(row['option'])}) goes on it without sanding"
                yield Look(
                    _named(name),
                    ("layers", "before", index),
                    _at("Layers", index),
                    "an old coat is sanded dull with 220",
                    f"'{SANDED}' before the first layer",
                )


def _solids(job: Seen) -> Iterator[Look]:
    for index, row in enumerate(job.products):
        solids = _share(row["solids"])
        if is_blank(row["product"]) or solids is None or solids >= LOW_SOLIDS:
            continue
        yield Look(
            _named(f"Volume solids of {text(row['product'])}: {_percent(solids)}"),
            ("products", "solids", index),
            _at("Products", index),
            "see its data sheet",
            _or(solids),
        )


def _curing(job: Seen) -> Iterator[Look]:
    for index, row in enumerate(job.working):
        typed = [
            (what, text(row[name]), _hours(row[name], job.system))
            for what, name in (
                ("touch dry", "touch"),
                ("light use", "light"),
                ("full cure", "full"),
            )
        ]
        known = [(what, shown, hours) for what, shown, hours in typed if hours is not None]
        hours = [time for _, _, time in known]
        if hours != sorted(hours):
            said = ", ".join(f"{what} {shown}" for what, shown, _ in known)
            yield Look(
                _named(f"{text(row['name'])} is not cured in order: {said}"),
                ("working", "light", index),
                _at("Products", index),
                "touch dry, then light, then full cure",
                "days, not hours, may be meant",
            )


def _hours(value: Value, system: units.System) -> float | None:
    if is_blank(value):
        return None
    try:
        return units.read(value, "time", default="h", fluids=system.fluids)
    except PourbookError:
        return None


def _rates(job: Seen) -> Iterator[Look]:
    tax, overhead, uplift = (
        _share(v) for v in (job.tax, job.rates["overhead"], job.rates["uplift"])
    )
    kind = word(job.rates["uplift_is"]) or "margin"
    high = HIGH_MARGIN if kind == "margin" else HIGH_MARKUP
    if tax is not None and tax < LOW_TAX:
        name = f"Tax: {_percent(tax)}"
        likely = tax * 100 if tax * 100 <= HIGHEST_TAX else tax * 10
        meant = f"{_percent(likely)} may be meant"
        yield Look(name, ("money", "tax", 0), "Start, Money", "", meant)
    if overhead is not None and overhead < LOW_OVERHEAD:
        name = f"Overhead: {_percent(overhead)}"
        yield Look(name, ("rates", "overhead", 0), "Price, Rates", "", _or(overhead))
    if uplift is not None and uplift > 0 and not LOW_MARGIN <= uplift <= high:
        meant = _or(uplift) if uplift < LOW_MARGIN else f"{_percent(uplift / 10)} may be meant"
        name = f"{kind.capitalize()}: {_percent(uplift)}"
        usual = "30 to 50 % of the price, small jobs"
        usual = usual if kind == "margin" else "43 to 100 % of the cost, small jobs"
        yield Look(name, ("rates", "uplift", 0), "Price, Rates", usual, meant)


def _clocks(job: Seen) -> Iterator[Look]:
    """Name hours that a spreadsheet made of a clock time: 2:30 typed is 0.104 of a day."""
    for index, row in enumerate(job.labour):
        hours = row["hours"]
        if isinstance(hours, bool) or not isinstance(hours, float | int) or not 0 < hours < 1:
            continue
        minutes = hours * 1440
        if abs(minutes - round(minutes)) < 1e-6 and abs(hours - round(hours, 4)) > 1e-9:
            clock = f"{round(minutes) // 60}:{round(minutes) % 60:02}"
            yield Look(
                _named(f"{text(row['step'])}: {hours:.4f} hours"),
                ("labour", "hours", index),
                _at("Price", index),
                "",
                f"{clock} may be meant: type {minutes / 60:.4g}",
            )


def _batches(job: Seen) -> Iterator[Look]:
    for index, (row, verdict, reason) in enumerate(
        zip(job.log, job.verdicts, job.reasons, strict=True)
    ):
        if text(verdict) != "look":
            continue
        batch = f"Batch {text(row['batch'])}" if not is_blank(row["batch"]) else "A batch"
        begun = row["started"]
        on = ""
        if isinstance(begun, float | int) and 0 < begun < _LAST_DAY:
            on = f" of {from_serial(float(begun)):%Y-%m-%d %H:%M}"
        yield Look(
            _named(f"{batch}{on}, {text(row['layer'])}: {text(reason)}"),
            ("log", "layer", index),
            _at("Used", index),
            "",
            "a wrong row; else look at the coat",
        )


def _uncounted(job: Seen) -> Iterator[Look]:
    """Name every product that was issued and left out of the count, once counting has begun."""
    names = [word(value) for value in job.counted]
    free = next((n for n, name in enumerate(names) if not name), len(names) - 1)
    if not any(names):
        return
    for row in job.issued:
        came = row["came"]
        if word(row["product"]) in {"", *names} or not isinstance(came, float | int) or came <= 0:
            continue
        issued = f"{in_figures(came, 4)} {job.system.volume}"
        yield Look(
            _named(f"{text(row['product'])}: {issued} issued, and not counted: taken as 0 left"),
            ("left", "product", free),
            _at("Used", free),
            "",
            "a row with what is left of it; 0 if nothing is",
        )


_RULES: tuple[Callable[[Seen], Iterator[Look]], ...] = (
    _twice,
    _depth,
    _unsanded,
    _unfilled,
    _loss,
    _solids,
    _curing,
    _rates,
    _clocks,
    _batches,
    _uncounted,
)


def is_held_up(value: Value) -> bool:
    """Return whether a cell belongs to a row that says itself what is wrong with it."""
    return value == FAILED

"""Random but sensible jobs, the same for the same seed.

Contract: :func:`make` gives the measure system and the entries of one job, shaped as
:func:`pourbook.job.make.make` takes them. Sizes, products and rates are invented within what a
shop would call usual. About a third of the jobs carry one to three mistakes, so that refusals are
compared too, not numbers alone. Half of the jobs have tests on Proof; most that have a price are
accepted and done (:mod:`tests.agreement.done`).
"""

from __future__ import annotations

import datetime as dt
import random
from collections.abc import Callable
from dataclasses import dataclass, field
from functools import cache

from tests.agreement import done

from pourbook.workbook.layout.laid_out import Layout
from pourbook.workbook.layout.lay_out import lay_out

Entry = tuple[str, str, int]
Entries = dict[Entry, object]

SUBSTRATES = ("plywood or wood", "laminate", "old coating", "concrete", "stone")
PIECES = 8
"""Rows of the Rooms sheet: the plain engine takes its time with every row."""

SHAPES = (
    "rectangle", "L-shape", "triangle", "triangle by sides", "trapezoid", "circle", "ellipse",
    "half-round", "polygon", "area given",
)  # fmt: skip
GOES_BY = (
    "job", "layer", "batch", "finished area", "poured area", "trowelled area", "rolled area",
    "sanded area", "cleaned area", "edge run",
)  # fmt: skip
SURFACES = (
    "top", "top + edge", "top + edge + backsplash", "edge", "backsplash", "edge + backsplash",
    "top + backsplash",
)  # fmt: skip
ROOMS = ("Kitchen", "Bar", "Bath", "Shop")
NAMES = ("Tinted base", "Clear flood", "Binder", "Top coat")
INCH, FOOT = 25.4, 304.8
GALLON = {"us": 3.785411784, "imperial": 4.54609}
OUNCE = {"us": 0.0295735295625, "imperial": 0.0284130625}


@dataclass(frozen=True)
class Sample:
    """One job: its seed, its measure system, and what is typed where."""

    seed: int
    system: str
    entries: Entries = field(default_factory=dict)


class _Typed:
    """Writes sizes as an estimator of one measure system may type them."""

    def __init__(self, dice: random.Random, system: str) -> None:
        self.dice, self.system = dice, system
        self.metric = system == "metric"

    def length(self, mm: float) -> object:
        """Return a size of a piece, in one of several ways of writing it."""
        if self.metric:
            whole = round(mm)
            return self.dice.choice([whole, f"{whole} mm", f"{whole / 10:g} cm", f"{mm:.1f}"])
        eighths = max(1, round(mm / INCH * 8))
        whole, rest = divmod(eighths, 8)
        mixed = f"{whole} {rest}/8" if rest and whole else f"{rest}/8" if rest else f"{whole}"
        feet, inches = divmod(whole, 12)
        tall = f"{feet}' {inches}\"" if feet else f"{mixed} in"
        return self.dice.choice([eighths / 8, mixed, f"{mixed} in", tall, f"{round(mm)} mm"])

    def run(self, mm: float) -> object:
        """Return a run along an edge."""
        if self.metric:
            return self.dice.choice([round(mm / 1000, 2), f"{mm / 1000:.2f} m", f"{round(mm)} mm"])
        inches = max(1, round(mm / INCH))
        return self.dice.choice(
            [round(mm / FOOT, 2), f"{inches} in", f"{inches // 12}' {inches % 12}\""]
        )

    def area(self, square_metres: float) -> object:
        """Return an area that was handed over as such."""
        if self.metric:
            return self.dice.choice([round(square_metres, 3), f"{square_metres:.3f} m²"])
        feet = square_metres / (FOOT / 1000) ** 2
        return self.dice.choice([round(feet, 2), f"{feet:.2f} ft²", f"{square_metres:.3f} m²"])

    def volume(self, litres: float) -> object:
        """Return a volume of mix."""
        if self.metric:
            return self.dice.choice([round(litres, 2), f"{litres:.2f} L"])
        gallons = litres / GALLON[self.system]
        named = "US gal" if self.system == "us" else "imp gal"
        return self.dice.choice(
            [round(gallons, 3), f"{gallons:.3f} {named}", f"{gallons:.3f} gal", f"{litres:.2f} L"]
        )

    def small(self, millilitres: float) -> object:
        """Return what stays in one bucket."""
        if self.metric:
            return self.dice.choice([round(millilitres), f"{round(millilitres)} mL"])
        ounces = millilitres / 1000 / OUNCE[self.system]
        return self.dice.choice([round(ounces, 1), f"{ounces:.1f} fl oz"])

    def density(self, kilos: float) -> object:
        """Return a density given in kg/L."""
        return self.dice.choice([f"{kilos:.3f} kg/L", f"{kilos * 1000:.0f} kg/m³"])

    def warmth(self, celsius: float) -> float:
        """Return a temperature as the system's bare number."""
        return round(celsius * 1.8 + 32, 1) if self.system == "us" else round(celsius, 1)

    def degrees(self, kelvin: float) -> float:
        """Return a difference of temperatures."""
        return round(kelvin * 1.8, 1) if self.system == "us" else round(kelvin, 1)

    def pace(self, square_metres: float) -> float:
        """Return an area an hour."""
        return round(square_metres if self.metric else square_metres / 0.09290304, 1)


@cache
def layout(system: str) -> Layout:
    """Return the layout all jobs of a measure system share."""
    return lay_out("job", system, PIECES)


def _dice(seed: int) -> tuple[random.Random, str]:
    dice = random.Random(f"pourbook {seed}")
    return dice, dice.choices(["us", "metric", "imperial"], [45, 45, 10])[0]


def system_of(seed: int) -> str:
    """Return the measure system of the job of a seed."""
    return _dice(seed)[1]


@cache
def make(seed: int) -> Sample:
    """Return the job of a seed.

    Example:
        >>> make(7) == make(7), make(7) == make(8)
        (True, False)
    """
    dice, system = _dice(seed)
    typed = _Typed(dice, system)
    rows: dict[str, list[dict[str, object]]] = {
        "start": [_start(dice)],
        "money": [_money(dice)],
        "site": [_site(dice, typed)],
        "pace": [_pace(dice, typed)],
        "rooms": [_piece(dice, typed, n) for n in range(dice.randint(2, PIECES))],
        "rates": [_rates(dice)],
    }
    measured = sorted({str(row["room"]) for row in rows["rooms"]})
    names = dice.sample(NAMES, dice.randint(2, 4))
    rows["products"] = [_product(dice, typed, name) for name in names]
    rows["working"] = [{"name": name, **_working(dice, typed)} for name in names]
    rows["layers"] = [
        _layer(dice, typed, option, number, dice.choice(names), measured)
        for option in "ABC"[: dice.choice([1, 2, 2, 3, 3])]
        for number in range(dice.randint(1, 3))
    ]
    rows["doing"] = [
        {
            "name": layer["option"],
            "layer_name": layer["layer"],
            **_doing(dice, typed, plain=layer["pigment"] is None),
        }
        for layer in rows["layers"]
    ]
    rows["packs"] = [pack for product in rows["products"] for pack in _packs(dice, typed, product)]
    rows["stock"] = [_lot(dice, typed, rows["products"], n) for n in range(dice.randint(0, 3))]
    rows["kinetics"] = [_kinetics(dice, typed, names[0])] if dice.random() < 0.3 else []
    rows["labour"] = [_labour(dice, n) for n in range(dice.randint(2, 8))]
    rows["sundries"] = [_sundry(dice, n) for n in range(dice.randint(1, 6))]
    rows["readings"] = [_reading(dice) for _ in range(dice.randint(0, 3))]
    rows["onsite"] = [_onsite(dice, typed, names) for _ in range(dice.randint(0, 2))]
    if dice.random() < 0.2:
        rows["hourly"] = [
            {"warmth": typed.warmth(dice.uniform(16, 28))} if dice.random() < 0.8 else {}
            for _ in range(dice.randint(10, 60))
        ]
    _pour(random.Random(f"pourbook {seed}, pours"), rows)
    _prepare(random.Random(f"pourbook {seed}, survey"), rows, measured)
    _shape(random.Random(f"pourbook {seed}, shapes"), rows)
    beside = random.Random(f"pourbook {seed}, settled")
    rows["settled_losses"] = _settled(beside, names)
    rows["money"][0]["second_trip"] = beside.choice([None, 0, 180, 650.5])
    paid = random.Random(f"pourbook {seed}, worth")
    for lot in rows["stock"]:
        lot["worth"] = round(paid.uniform(0, 300), 2) if paid.random() < 0.7 else None
    rows["additives"] = _additives(random.Random(f"pourbook {seed}, additives"), rows)
    _finish(random.Random(f"pourbook {seed}, finishes"), rows)
    entries: Entries = {
        (block, name, index): value
        for block, listed in rows.items()
        for index, row in enumerate(listed)
        for name, value in row.items()
        if value is not None
    }
    if dice.random() < 0.33:
        for mistake in dice.sample(MISTAKES, dice.randint(1, 3)):
            mistake(dice, entries)
    entries |= done.add(random.Random(f"pourbook {seed}, done"), layout(system), entries)
    return Sample(seed, system, entries)


def _pour(dice: random.Random, rows: dict[str, list[dict[str, object]]]) -> None:
    """Add how batches go over the pieces: dice of its own leave what the others draw as it is."""
    rows["site"][0]["going"] = dice.choice([None, "room by room", "as ordered", "fewest"])
    if dice.random() < 0.5:  # as plain as can be: more of them come out with a price
        for row in rows["doing"]:
            row |= {"share": 1, "carrying": 0}
        return
    single = [row for row in rows["rooms"] if row["count"] in (None, 1)]
    for row in single:
        others = [one["piece"] for one in single if one is not row and one["room"] == row["room"]]
        if others and dice.random() < 0.15:
            row["joins"] = dice.choice(others)
    for row in rows["doing"]:
        row |= {
            "share": dice.choice([None, 0.9, 1, 1]),
            "joined": dice.choice([None, 0.5, 1, 1]),
            "carrying": dice.choice([None, 0, 0, 1.5]),
            "mixers": dice.choice([None, None, None, 1, 2]),
        }
    for row in rows["products"]:
        row |= {
            "isocyanate": dice.choice([None, "yes", "no"]),
            "flammable": dice.choice([None, "Yes"]),
            "voc": dice.choice([None, 0, 120.5]),
            "respirator": dice.choice([None, "full face"]),
        }
    for row in rows["working"]:
        row |= {
            "thinnest": dice.choice([None, None, "0.1 mm"]),
            "thickest": dice.choice([None, "9 mm"]),
        }
        row |= {"heat_from": dice.choice([None, 3]), "heat_until": dice.choice([None, 20])}


def _finish(dice: random.Random, rows: dict[str, list[dict[str, object]]]) -> None:
    """Let the first options take their layers from finishes, and type over some of them."""
    rows["finishes"], rows["finish_layers"] = [], []
    for row in rows["products"]:
        row["figures"] = dice.choice([None, None, None, "data sheet", "Usual"])
    for row in rows["sundries"]:
        if dice.random() < 0.04:
            row["each"] = None
    options = sorted({str(row["option"]) for row in rows["layers"]})
    count = dice.choice([0, 0, 1, 2, 3])
    taken = options[:count]
    lines = list(zip(rows["layers"], rows["doing"], strict=False))
    mine = [(layer, work) for layer, work in lines if layer["option"] in taken]
    if not mine or mine != lines[: len(mine)]:
        return
    chosen: dict[str, object] = {}
    for option in taken:
        finish = f"finish {dice.randint(1, 9)} of {option}"
        odd = f" {finish.replace(' ', chr(160), 1)}{chr(0x200B)}"
        chosen[f"finish_{option.lower()}"] = dice.choice([finish, finish, finish.upper(), odd])
        rows["finishes"].append({"finish": finish})
        for layer, work in mine:
            if layer["option"] == option:
                both = {**layer, **work}
                kept = ("option", "rooms", "name", "layer_name")
                recipe = {name: value for name, value in both.items() if name not in kept}
                rows["finish_layers"].append({"finish": finish, **recipe})
    if dice.random() < 0.1:
        dice.shuffle(rows["finish_layers"])  # the rows of a finish are other ones, or apart
    rows["chosen"] = [chosen]
    for layer, work in mine:
        for row in (layer, work):
            typed = [name for name in row if name not in {"option", "name", "layer_name", "rooms"}]
            own = dice.choice(typed) if dice.random() < 0.2 else ""
            for name in list(row):
                if name not in {own, "rooms"}:
                    del row[name]


def _prepare(
    dice: random.Random, rows: dict[str, list[dict[str, object]]], rooms: list[str]
) -> None:
    """Add what stands on site before the first coat, what it takes, and how labour is paid."""
    rows["survey"] = []
    for room in dice.sample(rooms, dice.randint(0, len(rooms))):
        substrate = dice.choice([None, *SUBSTRATES])
        usual = None if dice.random() < 0.5 else "12 mL/m²"
        rows["survey"].append(
            {
                "survey_room": room,
                "substrate": substrate,
                "soak": usual
                if substrate in SUBSTRATES[:3]
                else dice.choice(["0 mL/m²", "40 mL/m²"]),
                "prep_hours": dice.choice([None, 1.5, 4]),
                "prep_cost": dice.choice([None, 12.5]),
            }
        )
    answers: dict[str, list[object]] = {
        "old": ["yes", "No", None],
        "lead": ["tested: none", "left to those licensed", None],
        "asbestos": ["tested: none"],
        "gas": ["nothing there", "Disconnected"],
        "electric": ["nothing there", "disconnected"],
        "plumbing": ["nothing there"],
        "by_whom": ["the owners' trades", None],
    }
    rows["gates"] = [{name: dice.choice(choices) for name, choices in answers.items()}]
    for row in rows["doing"]:
        if dice.random() < 0.1:
            row |= {"effect": dice.choice(["veining", "Alcohol mist"]), "effect_pace": 0.02}
    if dice.random() < 0.9:  # constants drawn at random miss the pot life that is stated
        rows["kinetics"] = []
    rows["rates"][0] |= {
        "least": dice.choice([None, 3, 4, 9.5]),
        "charge": dice.choice([None, "packs opened", "Amounts used"]),
        "leftovers": dice.choice([None, None, "as worth", "Without worth"]),
        "paid_by": dice.choice([None, None, None, *["Days and steps"] * 5, "Steps alone"]),
    }
    for block, name in (("labour", "per"), ("sundries", "item_per")):
        for row in rows[block]:
            if rows["start"][0]["start_date"] and dice.random() < 0.1:
                row[name] = "visit"
    rows["other_steps"] = [
        {
            "cans": dice.choice([None, 0, 24]),
            "lift_out": dice.choice([None, 0, 0.75]),
            "mask": dice.choice([None, 0, 1]),
            "filler": dice.choice([0, 0, 1.5]),
            "dams": dice.choice([None, 0, 0.4]),
            "clean_up": dice.choice([None, 0, 10]),
            "drips": dice.choice([0, 0, 0, 25]),
            "back": dice.choice([None, 0, 1]),
        }
    ]


def _shape(dice: random.Random, rows: dict[str, list[dict[str, object]]]) -> None:
    """Turn some pieces into upright ones, round ones and fills, and some films into depths."""
    for row in rows["rooms"]:
        bare = row.get("cutouts") is None and row.get("edge_run") is None
        if row["shape"] == "rectangle" and bare and dice.random() < 0.6:
            small = {"c": "2 in"} if dice.random() < 0.95 else {"c": None}
            changed: dict[str, object] = dice.choice(
                [
                    {"shape": "2 round corners", **small},
                    {"shape": "4 round corners", **small},
                    {"shape": "Waterfall end"},
                    {"shape": "integral backsplash", "c": dice.choice([None, "1/2 in"])},
                ]
            )
            row.update(changed)
        if row.get("edge_run") is not None and dice.random() < 0.2:
            row["under"] = dice.choice(["1/2 in", "20 mm"])
    for row in rows["layers"]:
        if row.get("film") is None and str(row["spread"]).endswith(("mil", "mm", "µm")):
            row["film"] = dice.choice([None, None, "Depth"])
            row["passes"] = dice.choice([1, 2]) if row["film"] else row.get("passes")
    plain = [row for row in rows["rooms"] if row["shape"] == "rectangle" and row.get("c") is None]
    if plain and len(rows["layers"]) < 9 and dice.random() < 0.15:
        for name in ("cutouts", "edge_run", "edge_height", "edge_profile", "splash_run"):
            plain[-1].pop(name, None)
        plain[-1].pop("splash_height", None)
        plain[-1].pop("under", None)
        plain[-1].update({"shape": "Grout lines", "a": "3 mm", "b": "9 m", "c": "1/8 in"})
        filling = {"layer": "Fill the joints", "surfaces": "fills", "spread": None, "film": None}
        first = {**rows["layers"][0], "rooms": None, "passes": 1, "thinner": None}
        rows["layers"].append({**first, **filling})
        rows["doing"].append({**rows["doing"][0], "layer_name": "Fill the joints"})


def _settled(dice: random.Random, names: list[str]) -> list[dict[str, object]]:
    """Give what settled jobs say of some products, and now and then twice of one."""
    chosen = [name for name in names if dice.random() < 0.5]
    if chosen and dice.random() < 0.05:
        chosen.append(chosen[0].lower())
    return [
        {
            "loss_of": name,
            "settled_loss": dice.choice([None, 0.06, 0.12, 0.31]),
            "settled_spread": dice.choice([None, 0.2, 0.45]),
            "settled_jobs": dice.choice([None, 0, 3, 18]),
        }
        for name in chosen
    ]


def _additives(
    dice: random.Random, rows: dict[str, list[dict[str, object]]]
) -> list[dict[str, object]]:
    """Give what goes into the mix and onto the film: mostly all of it, sometimes not."""
    chosen = [("white", "pigment"), ("Grey", "pigment"), ("flakes", "broadcast")]
    found: list[dict[str, object]] = [
        {
            "additive": name,
            "serves": serves,
            "pack": dice.choice(["1 lb", "250 g", 0.5, "20 kg"]),
            "pack_price": dice.choice([0, 14, 21.35]),
            "left": dice.choice([None, "60 g"]),
        }
        for name, serves in chosen
        if dice.random() < 0.99
    ]
    if dice.random() < 0.3:
        name = dice.choice(rows["layers"])["layer"]
        kind = {"serves": dice.choice(["Pigment", "broadcast"]), "for_layer": name}
        found.append({"additive": "paste", **kind, "pack": "2 lb", "pack_price": 39})
    if dice.random() < 0.3:
        pack = dice.choice(["500 mL", "1 L", "1 L", "1 L", "1 L", "2 kg"])
        kind = {"serves": "water or thinner", "pack": pack, "pack_price": 11.9}
        found.append({"additive": "thinner", **kind})
    return found


def _start(dice: random.Random) -> dict[str, object]:
    quoted = dt.date(2026, 1, 1) + dt.timedelta(dice.randint(0, 700))
    return {
        "job": f"Job {dice.randint(1, 999)}",
        "client": dice.choice(["The owners", None]),
        "company": dice.choice(["The shop", None]),
        "date": quoted if dice.random() < 0.9 else None,
        "until": quoted + dt.timedelta(dice.choice([0, 30, 30, 60])),
        "start_date": quoted + dt.timedelta(dice.randint(5, 90)) if dice.random() < 0.85 else None,
    }


def _money(dice: random.Random) -> dict[str, object]:
    rate = dice.choice([0, 0.05, 0.0625, 0.08875, 0.13, 0.2, round(dice.uniform(0, 0.25), 5)])
    return {"currency": dice.choice(["USD", "CAD", "EUR"]), "tax_name": "tax", "tax": rate}


def _site(dice: random.Random, typed: _Typed) -> dict[str, object]:
    return {
        "temperature": typed.warmth(dice.uniform(18, 26)),
        "night": typed.warmth(dice.uniform(14, 22)) if dice.random() < 0.7 else None,
        "humidity": dice.choice([None, 0.4, 0.55, round(dice.uniform(0.2, 0.8), 2)]),
        "weekdays": dice.choice(["Mon-Fri", "Mon-Sat", "every day"]),
        "crew": dice.randint(1, 5),
        "work_from": dice.choice([7, 7.5, 8, 9]),
        "work_to": dice.choice([15.5, 16, 17, 18]),
    }


def _pace(dice: random.Random, typed: _Typed) -> dict[str, object]:
    return {
        "prepare": round(dice.uniform(0, 8), 1),
        "sand": typed.pace(dice.uniform(2, 8)),
        "clean": typed.pace(dice.uniform(8, 25)),
        "heat_pass": dice.choice([None, 3, 4.5]),
        "surface": typed.warmth(dice.uniform(16, 24)) if dice.random() < 0.2 else None,
    }


def _piece(dice: random.Random, typed: _Typed, number: int) -> dict[str, object]:
    shape = dice.choice(SHAPES)
    long, deep = dice.uniform(600, 3200), dice.uniform(350, 900)
    size = typed.length
    row: dict[str, object] = {
        "room": dice.choice(ROOMS) if number else "Kitchen",
        "piece": f"Piece {number + 1}",
        "shape": shape,
        "count": dice.choice([None, None, None, 1, 2, 3]),
        "may_split": dice.choice([None, "yes", "yes", "yes", "yes", "no"]),
        "order": dice.choice([None, None, 1, 2, 3]),
        "a": size(long),
        "b": size(deep),
    }
    if shape == "L-shape":
        row |= {"c": size(dice.uniform(1000, 2600)), "d": size(dice.uniform(350, 700))}
    elif shape == "triangle by sides":
        row |= {"a": size(900), "b": size(dice.uniform(700, 1100)), "c": size(800)}
    elif shape == "trapezoid":
        row["c"] = size(dice.uniform(500, 1500))
    elif shape == "circle":
        row |= {"a": size(dice.uniform(500, 1500)), "b": None}
    elif shape == "half-round":
        row["b"] = size(deep) if dice.random() < 0.4 else None
    elif shape == "polygon":
        corner = long / INCH if not typed.metric else long
        width, depth = round(corner), round(corner / 2)
        row |= {"a": f"0, 0; {width}, 0; {width}, {depth}; 0, {round(depth * 1.5)}", "b": None}
    elif shape == "area given":
        row |= {"a": typed.area(dice.uniform(0.4, 4)), "b": None}
    if shape in {"rectangle", "L-shape"} and dice.random() < 0.4:
        small = (300, 250, 40) if typed.metric else (12, 10, "1 1/2")
        row["cutouts"] = dice.choice(
            ["{0} x {1}", "round {1}", "oval {0} x {1}; round {2}", "2 of round {2}"]
        ).format(*small)
    if number == 0 or dice.random() < 0.7:
        row["edge_run"] = typed.run(long)
        row["edge_height"] = size(dice.choice([18, 25, 38, 50]))
        row["edge_profile"] = dice.choice([None, "square", "half-round", "girth given"])
    if number == 0 or dice.random() < 0.4:
        row["splash_run"] = typed.run(long)
        row["splash_height"] = size(100)
    return row


def _product(dice: random.Random, typed: _Typed, name: str) -> dict[str, object]:
    parts = dice.choice([1, 2, 2, 2, 3])
    basis = dice.choice(["volume", "mass"])
    row: dict[str, object] = {
        "product": name,
        "parts": parts,
        "basis": basis if parts > 1 else dice.choice([None, basis]),
        "first": dice.choice([None, *"ABC"[:parts]]),
        "solids": dice.choice([1, 1, 0.62, round(dice.uniform(0.35, 0.99), 3)]),
        "shake": dice.choice([None, "none", "A", "all"]),
        "minutes": dice.choice([2, 2.5, 3]),
        "coldest": typed.warmth(dice.uniform(8, 17)),
        "warmest": typed.warmth(dice.uniform(29, 35)) if dice.random() < 0.8 else None,
        "dampest": dice.choice([None, 0.8, 0.85]),
    }
    ratio: list[float] = []
    for place, part in enumerate("abc"[:parts]):
        scale = 100 if basis == "mass" else 1
        each = dice.choice([1, 2, 3]) if place == 0 else dice.choice([0.25, 0.46, 0.5, 1])
        ratio.append(each * scale)
        row[f"density_{part}"] = typed.density(dice.uniform(0.95, 1.6))
    row["ratio"] = ":".join(f"{each:g}" for each in ratio) if parts > 1 else None
    return row


def _working(dice: random.Random, typed: _Typed) -> dict[str, object]:
    opens = dice.choice([2, 4, 6])
    return {
        "pot_life": round(dice.uniform(25, 70), 1),
        "pot_mass": f"{dice.choice([1, 3, 4, 6])} kg" if dice.random() < 0.8 else None,
        "pot_temp": typed.warmth(dice.choice([20, 23, 25])),
        "safe_mix": typed.volume(dice.uniform(4, 9)) if dice.random() < 0.8 else None,
        "tolerance": dice.choice([None, 0.02, 0.03]),
        "cure_temp": typed.warmth(dice.choice([20, 23, 25])),
        "touch": dice.choice([6, 8, 10, 24]),
        "recoat_from": opens,
        "recoat_until": dice.choice([None, opens + 20, opens + 44]),
        "light": dice.choice([20, 36, 72]),
        "full": 168,
        "energy": dice.choice([None, 50, 55, 62.5]),
        "margin": typed.degrees(3) if dice.random() < 0.3 else None,
    }


def _spread(dice: random.Random, typed: _Typed) -> tuple[str, str | None]:
    """Return a spread in one of the ways there are, and whether the film is wet or dry."""
    notch = "3 x 3" if typed.metric else "1/8 x 1/8"
    film = f"{dice.uniform(0.05, 0.3):.2f} mm" if typed.metric else f"{dice.uniform(2, 12):.1f} mil"
    gallon = {"us": "US gal", "imperial": "imp gal", "metric": "L"}[typed.system]
    rate = dice.uniform(3, 12) if typed.metric else dice.uniform(120, 420)
    ways: list[tuple[str, str | None]] = [
        (f"{dice.uniform(60, 900):.0f} mL/m²", None),
        (f"{dice.uniform(80, 400):.0f} g/m²", None),
        (f"{rate:.1f} {'m²' if typed.metric else 'ft²'}/{gallon}", None),
        (film, "wet"),
        (film, "dry"),
        (f"square notch {notch} at {dice.randint(40, 90)} %", None),
        (f"V notch {notch}", None),
    ]
    if not typed.metric:
        ways.append((f"{dice.uniform(1, 3.2):.1f} fl oz/ft²", None))
    return dice.choice(ways)


def _layer(
    dice: random.Random, typed: _Typed, option: str, number: int, product: str, measured: list[str]
) -> dict[str, object]:
    spread, film = _spread(dice, typed)
    batch = f"{dice.randint(5, 60)} g per batch"
    return {
        "option": option,
        "layer": f"Layer {number + 1}",
        "product": product,
        "method": dice.choice(["pour", "trowel", "roll"]),
        "surfaces": dice.choice(SURFACES[:3] * 3 + SURFACES),
        "rooms": dice.choice([None] * 9 + ["Kitchen", measured[-1]]),
        "before": dice.choice([None, "nothing", "clean", "sand 220 and clean"]),
        "spread": spread,
        "film": film,
        "passes": dice.choice([None, 1, 1, 2]),
        "loss": dice.choice([None, 0.05, 0.08, round(dice.uniform(0, 0.3), 3)]),
        "edge_loss": "20 mL/m" if dice.random() < 0.3 else None,
        "take_up": "40 mL/m²" if dice.random() < 0.3 else None,
        "pigment": dice.choice([None, None, "3 % mass", batch, "20 g/m²"]),
        "thinner": dice.choice(
            [None, None, "5 % vol", "30 mL per batch" if "mL" in spread else None]
        ),
        "broadcast": dice.choice([None, None, None, "200 g/m²"]),
    }


def _doing(dice: random.Random, typed: _Typed, *, plain: bool) -> dict[str, object]:
    return {
        "bucket": typed.volume(dice.uniform(4, 10)),
        "hands": dice.choice([None, None, 1, 2]),
        "pace": typed.pace(dice.uniform(8, 20)),
        "batch_loss": typed.small(dice.uniform(20, 120)) if dice.random() < 0.8 else None,
        "keep_order": dice.choice([None, None, "yes", "no"]),
        "cups": "white 60 at 4 %; grey 40 at 5 %" if dice.random() < 0.25 and plain else None,
        "heat_passes": dice.choice([None, None, 3]),
    }


def _packs(
    dice: random.Random, typed: _Typed, product: dict[str, object]
) -> list[dict[str, object]]:
    sizes = [("kit", dice.uniform(2, 6)), ("kit", dice.uniform(8, 16))]
    if product["parts"] == 2 and dice.random() < 0.3:
        sizes += [("A", 4.0), ("B", 2.0)]
    return [
        {
            "product": product["product"],
            "holds": holds,
            "contents": typed.volume(litres),
            "price": round(litres * dice.uniform(12, 30), 2),
            "shelf_life": dice.choice([None, 180, 365]),
            "most": 60 if dice.random() < 0.1 else None,
        }
        for holds, litres in sizes[: dice.choice([1, 2, 4])]
    ]


def _lot(
    dice: random.Random, typed: _Typed, products: list[dict[str, object]], number: int
) -> dict[str, object]:
    product = dice.choice(products)
    parts = int(str(product["parts"]))
    return {
        "product": product["product"],
        "lot": f"L-{number}",
        "holds": dice.choice(["kit", *"ABC"[: parts if parts > 1 else 0]]),
        "amount": typed.volume(dice.uniform(0.2, 2)),
        "expiry": dt.date(2026, 1, 1) + dt.timedelta(dice.randint(0, 1100))
        if dice.random() < 0.7
        else None,
    }


def _kinetics(dice: random.Random, typed: _Typed, product: str) -> dict[str, object]:
    return {
        "product": product, "heat": 350, "specific": 1.9, "a1": dice.choice([5000, 10000]),
        "e1": 55, "a2": 1_000_000, "e2": 55, "m": 1, "n": 1.5, "loss": dice.choice([6, 8]),
        "hottest": typed.warmth(60) if dice.random() < 0.5 else None, "source": "invented",
    }  # fmt: skip


def _labour(dice: random.Random, number: int) -> dict[str, object]:
    hours = round(dice.uniform(0.005, 0.6), 3)
    return {"step": f"Step {number + 1}", "per": dice.choice(GOES_BY), "hours": hours}


def _sundry(dice: random.Random, number: int) -> dict[str, object]:
    return {
        "item": f"Item {number + 1}",
        "item_per": dice.choice(GOES_BY),
        "quantity": dice.choice([1, 2, 0.05, 0.333]),
        "each": round(dice.uniform(0.1, 40), 2),
    }


def _rates(dice: random.Random) -> dict[str, object]:
    return {
        "option": dice.choice(["A", "A", "A", "B", "C"]),
        "labour": round(dice.uniform(25, 90), 2),
        "trip": dice.choice([0, 38, 55.5]),
        "overhead": dice.choice([0, 0.18, 0.35, round(dice.uniform(0, 1), 4)]),
        "overhead_on": dice.choice(["labour", "direct cost"]),
        "uplift_is": dice.choice(["margin", "markup"]),
        "uplift": dice.choice([0, 0.25, 0.3, round(dice.uniform(0, 0.6), 4)]),
        "minimum": dice.choice([None, 850, 2500]),
        "replace_low": dice.choice([None, 65]),
        "replace_high": dice.choice([None, 120]),
    }


def _reading(dice: random.Random) -> dict[str, object]:
    test, reading, limit = dice.choice(
        [
            ("ASTM F2170", dice.randint(55, 90), 75),
            ("ASTM D4263", dice.choice(["dry", "damp"]), "dry"),
            ("ASTM D7234", f"{dice.randint(150, 400)} psi", "200 psi"),
            ("ASTM D3359", dice.choice(["3B", "4B", "5B"]), "4B"),
        ]
    )
    return {"read_room": dice.choice(ROOMS), "test": test, "reading": reading, "limit": limit}


def _onsite(dice: random.Random, typed: _Typed, names: list[str]) -> dict[str, object]:
    return {
        "air_product": dice.choice(names),
        "air": typed.warmth(dice.uniform(14, 30)),
        "surface": typed.warmth(dice.uniform(10, 28)),
        "air_humidity": round(dice.uniform(0.3, 0.9), 2),
    }


def _put(block: str, name: str, *values: object) -> Callable[[random.Random, Entries], None]:
    """Return a mistake: one of the values in a filled row of a column; None clears it."""

    def mistake(dice: random.Random, entries: Entries) -> None:
        filled = sorted({key[2] for key in entries if key[0] == block})
        if not filled:
            return
        key, value = (block, name, dice.choice(filled)), dice.choice(values)
        if value is None:
            entries.pop(key, None)
        else:
            entries[key] = value

    return mistake


MISTAKES: list[Callable[[random.Random, Entries], None]] = [
    _put("rooms", "a", "25 oz", "1,234", "a lot", None, 0),
    _put("rooms", "shape", "hexagon", None),
    _put("rooms", "cutouts", "9000 x 9000", "round"),
    _put("rooms", "count", "many", 1.5, 0),
    _put("layers", "product", "Unknown", None),
    _put("layers", "spread", "x", "30 oz", None),
    _put("layers", "option", None),
    _put("layers", "pigment", "5 % vol", "much"),
    _put("layers", "thinner", "30 mL per batch"),
    _put("layers", "rooms", "Attic"),
    _put("layers", "loss", 0.35, 0.0015),
    _put("rates", "uplift", 0.003),
    _put("start", "until", dt.date(2025, 12, 31)),
    _put("products", "density_a", "90 kg/L", None),
    _put("products", "ratio", "2:1:1:1", 4 / 24 + 1 / 1440, "2 1", "0:1"),
    _put("products", "solids", 0, "some"),
    _put("working", "pot_life", None, "long"),
    _put("doing", "bucket", None, "big"),
    _put("doing", "pace", None),
    _put("packs", "contents", None, "a can"),
    _put("packs", "product", "Unknown"),
    _put("stock", "amount", "some"),
    _put("labour", "per", "moon", None),
    _put("labour", "hours", "some", None),
    _put("sundries", "each", "dear", None),
    _put("rates", "labour", None),
    _put("rates", "uplift", 1, None),
    _put("site", "crew", None, 0),
    _put("site", "work_from", "early"),
    _put("site", "temperature", None),
    _put("money", "tax", None),
    _put("readings", "reading", "wet"),
    _put("onsite", "air_humidity", 0),
]

"""The texts of a mix card as the crew reads them: the columns of PB_BATCHES behind its status.

Contract: :func:`texts` gives one text a column of :data:`RESULTS`. Amounts are rounded to what a
person can weigh or read off a bucket; the rounding takes up at most half of the product's
tolerance, the other half is the hand's. Where reading off the bucket would take more, the card
gives weights alone and says so.
"""

from __future__ import annotations

import math
from fractions import Fraction

from pourbook import units
from pourbook.cells import Value, ranges_are_of
from pourbook.functions.batch.mixes import Mix
from pourbook.tables.declared import Column
from pourbook.tables.doing import ALCOHOL, EFFECTS
from pourbook.tables.measured import FILLS
from pourbook.tables.products import PARTS, Product, in_words
from pourbook.tables.works import MINUTE
from pourbook.trade import weighing
from pourbook.trade.weighing import GRAM, MILLILITRE, Measured

RESULTS = (
    Column("title", "Which batch it is, and its layer"),
    Column("place", "Product, layer and batch of the layer"),
    Column("card_pieces", "The pieces it coats, as many as the card has room for"),
    Column("shake", "What to shake first"),
    Column("first", "The part poured first"),
    Column("second", "The part poured second"),
    Column("third", "The part poured third"),
    Column("pigment", "Pigment to add"),
    Column("thinner", "Water or thinner to add"),
    Column("mixing", "How to mix"),
    Column("card_cups", "How to divide it into colours"),
    Column("spread", "When to spread it, and until when"),
    Column("heat", "Passes with torch or heat gun"),
    Column("broadcast", "What to broadcast"),
    Column("note", "Whether to weigh or to read off the bucket"),
    Column("cautions", "The usual cautions, with what its safety data sheet says"),
)
HAND = 0.5  # the part of the tolerance that rounding may take up; the rest is the hand's
LONGEST_PIECES = 190
_EFFECTS = dict(
    zip(
        EFFECTS,
        (
            "",
            ": metal powder, keep the dust down",
            ": no flame or spark while alcohol is in the air",
            ": no dust, no blowing",
        ),
        strict=True,
    )
)
"""What is said with each effect (common practice, no source)."""
_VERBS = {"pour": "Pour out", "trowel": "Trowel on", "roll": "Into the tray"}
_SAID_1 = ("first contact", "Strew")
_SAID = ("the start of mixing", "Broadcast")
"""How cards of templates 1 and those of today say it: a stored card is worked out as it was."""
_VERBS_1 = _VERBS | {"roll": "Pour into the tray and roll"}
"""As the cards of templates 1 have it."""


def texts(mix: Mix, last: int, system: units.System) -> list[Value]:
    """Return the texts of one card in the order of :data:`RESULTS`.

    Args:
        mix: The batch.
        last: How many batches the job has.
        system: The job's units.

    Raises:
        InputError: The batch is too small to be weighed within the product's tolerance.
    """
    layer, product = mix.planned.layer, mix.planned.layer.product
    weights, marks = measured(mix, system)
    order = pouring(product.first, len(mix.shares))
    steps = _Steps()
    pours = []
    for place, at in enumerate(order):
        mark = f" (to the {_volume(marks.amounts[place], system)} mark)" if marks else ""
        pours.append(steps.say(f"Pour {PARTS[at]}: {_mass(weights.amounts[at])}{mark}"))
    pours += [""] * (len(PARTS) - len(pours))
    pigment = steps.say(
        mix.pigment and f"Add {mix.pigment_name or 'pigment'}: {_dose(mix.pigment)}"
    )
    thinner = steps.say(mix.thinner and f"Add water or thinner: {_thinner(mix.thinner, system)}")
    mixing = steps.say(
        f"Mix {product.minutes:g} min with a paddle, scrape sides and bottom, mix again"
    )
    cups = steps.say(mix.cups and "Divide: " + _cups(mix, weights))
    verb = (_VERBS_1 if ranges_are_of() == 1 else _VERBS)[layer.method]
    effect = mix.planned.doing.effect
    worked = f"; {effect} while it is wet{_EFFECTS[effect]}" if effect else ""
    since, strew = _SAID_1 if ranges_are_of() == 1 else _SAID
    spread = steps.say(f"{verb} at once; {_times(mix)} min after {since}{worked}")
    passes = mix.planned.doing.heat_passes
    only = "once the alcohol has flashed off and is out of the room, " if effect == ALCOHOL else ""
    heat = steps.say(passes and f"Heat: {only}{_heating(mix)}keep it moving")
    which = f" of {mix.broadcast_name}" if mix.broadcast_name else ""
    broadcast = steps.say(
        mix.broadcast and f"{strew} {_dose(mix.broadcast)}{which} into the wet film"
    )
    return [
        f"Batch {mix.number} of {last}: {layer.name}",
        f"{product.name}, {in_words(product)}. Layer {mix.layer_number}, batch {mix.in_layer}",
        _where(mix, system),
        "" if product.shake == "none" else f"Shake {_shaken(product.shake)} well before opening",
        *pours,
        pigment,
        thinner,
        mixing,
        cups,
        spread,
        heat,
        broadcast,
        _note(marks, len(mix.shares)),
        cautions(product),
    ]


def cautions(product: Product) -> str:
    """Return the usual cautions of a card, with what the product's safety data sheet says.

    Common practice, no source; the safety data sheet goes before it.

    Example:
        >>> from dataclasses import replace
        >>> plain = Product("x", "volume", (1.0,), (1000.0,), 1.0, "A")
        >>> "Isocyanates" in cautions(replace(plain, isocyanate=True)), len(cautions(plain)) < 250
        (True, True)
    """
    named = f" {product.respirator}," if product.respirator else ""
    respirator = f"respirator{named} as its safety data sheet says"
    nobody = " Isocyanates: nobody without one in the room." if product.isocyanate else ""
    flame = (
        "It burns: no flame, spark or pilot light" if product.flammable else "No flame near solvent"
    )
    return (
        f"Gloves, goggles, {respirator}: it can sensitise skin and lungs for life.{nobody} No "
        "draught on the wet coat. Never leave mixed resin in the bucket, it heats itself. "
        f"{flame}; an extinguisher by every torch."
    )


def measured(mix: Mix, system: units.System) -> tuple[Measured, Measured | None]:
    """Return the parts of a batch as weighed, and as marks on the bucket where those will do.

    Raises:
        InputError: The batch is too small to be weighed within the product's tolerance.
    """
    product, allowed = mix.planned.layer.product, mix.planned.working.tolerance * HAND
    ratio = (product.ratio, product.densities, product.basis)
    weights = weighing.weighed([share.mass for share in mix.shares], *ratio, allowed)
    order = pouring(product.first, len(mix.shares))
    volumes = [share.volume for share in mix.shares]
    step = weighing.dose_step if ranges_are_of() == 1 else weighing.volume_step
    marks = weighing.marks(volumes, order, _ounce(system), *ratio, step)
    return weights, marks if marks.off <= allowed else None


def pouring(first: str, parts: int) -> list[int]:
    """Return the places of the parts in the order they are poured.

    Example:
        >>> pouring("B", 3)
        [1, 0, 2]
    """
    start = PARTS.index(first)
    return [start, *(at for at in range(parts) if at != start)]


class _Steps:
    """Numbers the steps of a card as they are said; what is not needed gets no number."""

    def __init__(self) -> None:
        self.said = 0

    def say(self, words: object) -> str:
        if not words:
            return ""
        self.said += 1
        return f"{self.said}. {words}"


def _note(marks: Measured | None, parts: int) -> str:
    """Return how it is measured and, but for cards of templates 1, what a leftover is for."""
    if ranges_are_of() == 1:
        return _note_1(marks, parts)
    left = "Leftover: pour out thin."
    if parts == 1:
        return f"Weigh it or read it off the bucket. {left}"
    how = (
        "WEIGH IT: marks are too coarse for this ratio."
        if marks is None
        else "Weigh it (surer), or read a level bucket."
    )
    return f"{how} Scale to 0 each time. {left}"


def _note_1(marks: Measured | None, parts: int) -> str:
    if parts == 1:
        return "Weigh it or read it off the bucket."
    if marks is None:
        return "WEIGH IT: bucket marks are too coarse for this ratio. Set the scale to 0 each time."
    return (
        "Weigh it, or read it off a level bucket; weighing is surer. Set the scale to 0 each time."
    )


def _shaken(shake: str) -> str:
    return "all parts" if shake == "all" else f"part {shake}"


def _where(mix: Mix, system: units.System) -> str:
    """Return rooms, pieces, area and film of a batch; those of templates 1 have pieces alone."""
    if ranges_are_of() == 1:
        return _short(mix.pieces, LONGEST_PIECES)
    layer = mix.planned.layer
    rooms = dict.fromkeys(layer.pieces[share.piece].room for share in mix.batch.shares)
    place = ", ".join(filter(None, rooms))
    said = f"{place}: " if place else ""
    target = f". {units.show(mix.area, system.area, 1)}"
    if FILLS in layer.surfaces:
        target = ", level with its edges"
    else:
        target += f", {gauge(layer.wet, system)} wet"
    return f"{said}{_short(mix.pieces, LONGEST_PIECES - len(said) - len(target))}{target}"


def gauge(film: float, system: units.System) -> str:
    """Return a wet film in m in steps a comb gauge is read in (common practice, no source).

    Example:
        >>> gauge(0.00095, units.SYSTEMS["us"]), gauge(0.00095, units.SYSTEMS["metric"])
        ('37 mil (950 µm)', '950 µm')
    """
    micrometres = film * 1e6
    step = 5 if micrometres < 100 else 25
    metric = f"{round(micrometres / step) * step:g} µm"
    if system.film != "mil":
        return metric
    mil = film / units.to_si(1.0, "mil")
    return f"{round(mil * 2) / 2 if mil < 10 else round(mil):g} mil ({metric})"


def _short(pieces: str, longest: int) -> str:
    """Return the pieces, cut at one of them where they are too many for the card."""
    if len(pieces) <= longest:
        return pieces
    kept = pieces[:longest].rpartition("; ")[0]
    left = pieces[len(kept) :].count("; ")
    return f"{kept or pieces[:longest]}; and {left} more, see Batches"


def _heating(mix: Mix) -> str:
    """Return how many passes there are and when; cards of templates 1 do not say when."""
    passes, working = mix.planned.doing.heat_passes, mix.planned.working
    times = f"{passes} pass; " if passes == 1 else f"{passes} passes, a minute or two apart; "
    if ranges_are_of() == 1:
        return f"{passes} pass, a minute or two apart; " if passes == 1 else times
    first, last = (f"{seconds / MINUTE:g}" for seconds in (working.heat_from, working.heat_until))
    return f"first {first} to {last} min after it is spread; {times}"


def _times(mix: Mix) -> str:
    """Return until when it is out of the bucket, and worked; cards of templates 1 say one time."""
    if ranges_are_of() == 1:
        return f"use by {_minutes(mix.use_by)}"
    return f"out of the bucket by {_minutes(mix.out_by)}, worked by {_minutes(mix.worked_by)}"


def _minutes(seconds: float) -> str:
    """Return whole minutes, rounded down: the mix must not be used past its time."""
    minutes = math.floor(seconds / MINUTE)
    return str(minutes) if minutes else f"{math.floor(seconds / MINUTE * 10) / 10:g}"


def _mass(kilograms: float) -> str:
    grams = kilograms / GRAM
    places = 0 if abs(grams - round(grams)) < 1e-6 else 1
    return f"{grams:,.{places}f} g"


def _dose(kilograms: float) -> str:
    return _mass(weighing.nearest(kilograms, weighing.mass_step(kilograms)))


def _ounce(system: units.System) -> float | None:
    return units.to_si(1.0, system.small_volume) if system.fluids else None


def _thinner(volume: float, system: units.System) -> str:
    step = 0.1 * MILLILITRE if volume < 10 * MILLILITRE else weighing.dose_step(volume, None)
    metric = _volume(weighing.nearest(volume, step), None)
    ounce = _ounce(system)
    if ounce is None:
        return metric
    read = weighing.nearest(volume, weighing.dose_step(volume, ounce))
    return f"{metric} (about {_volume(read, system)})" if read else metric


def _volume(volume: float, system: units.System | None) -> str:
    """Return a volume already rounded to a mark, as the bucket shows it."""
    if system is None or not system.fluids:
        return f"{volume / MILLILITRE:,.6g} mL"
    quarters = round(units.express(volume, system.small_volume) * 4)
    whole, rest = divmod(quarters, 4)
    words = [f"{whole:,}"] if whole or not rest else []
    words += [str(Fraction(rest, 4))] if rest else []
    return f"{' '.join(words)} fl oz"


def _cups(mix: Mix, weights: Measured) -> str:
    """Return the cups by weight; together they are what was weighed into the bucket."""
    poured = math.fsum(weights.amounts)
    fine = 10 if any(round(m / GRAM, 6) % 1 for m in weights.amounts) else 1
    counts = weighing.share_out(poured, [cup.volume for cup in mix.cups], GRAM / fine)
    found = []
    for cup, count in zip(mix.cups, counts, strict=True):
        added = f" + {_dose(cup.pigment)} pigment" if cup.pigment else ""
        found.append(f"{cup.cup.name} {_mass(count * GRAM / fine)}{added}")
    return "; ".join(found)

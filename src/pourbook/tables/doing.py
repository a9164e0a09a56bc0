"""How layers are mixed and put on: the second table of Layers, in SI units.

Contract: :func:`read_doing` turns one row into a :class:`Doing` or refuses it by column.
"""

from __future__ import annotations

from pourbook import units
from pourbook.cells import Value, choice, is_blank, number, ranges_are_of, refuse_errors
from pourbook.errors import BlankError, RangeError
from pourbook.records import dataclass
from pourbook.tables import colours, reading
from pourbook.tables import works as working_table
from pourbook.tables.colours import Cup
from pourbook.tables.declared import declared

DOING, DOING_LABELS = declared("doing").columns, declared("doing").labels
EFFECTS = declared("doing").choices["effect"]
ALCOHOL = EFFECTS[2]


MOST_HEAT_PASSES = 99
USUAL_SHARE = 0.7
"""The share of the pot life a batch is planned within (common practice, no source)."""
USUAL_JOINED = 1 / 3
"""The share of the pot life within which what joins is begun (common practice, no source)."""
USUAL_CARRYING = 60.0
"""Seconds to carry a bucket and pour out its first strip, and to divide off each colour cup (common
practice, no source)."""
MOST_MIXERS = 9
MOST_EFFECT = 60.0


@dataclass(frozen=True)
class Doing:
    """How a layer is mixed and put on, SI: volumes in m³, areas in m², pace of one in m²/s.

    A batch is planned within ``share`` of its pot life, ``carrying`` is the time in s between
    mixing and spreading, and what joins is begun within ``joined`` of the pot life.
    """

    bucket: float
    hands: int
    pace: float
    batch_loss: float
    keep_order: bool
    cups: tuple[Cup, ...]
    heat_passes: int
    most_area: float | None = None
    share: float = 1.0
    carrying: float = 0.0
    joined: float = USUAL_JOINED
    mixers: int = 1
    effect: str = ""
    """What is worked into the wet film; its time is in ``pace``."""


def read_doing(row: dict[str, Value], crew: float, system: units.System) -> Doing:
    """Read one row of the table on how layers are mixed and put on.

    Raises:
        InputError: A cell is missing or impossible; the place is its column.
    """
    refuse_errors(row, DOING_LABELS)
    if is_blank(row["bucket"]):
        raise BlankError("it is blank", "type how much mix a bucket takes", DOING_LABELS["bucket"])
    bucket = reading.labelled(
        row["bucket"], "volume", DOING_LABELS["bucket"], system.volume, system.fluids
    )
    if is_blank(row["pace"]):
        mend = f"type how many {system.area} one person spreads in an hour"
        raise BlankError("it is blank", mend, DOING_LABELS["pace"])
    pace = number(row["pace"], DOING_LABELS["pace"])
    if pace <= 0:
        raise RangeError(f"it is {pace:g}", "type a number above 0", DOING_LABELS["pace"])
    effect, seconds = _effect(row, system)
    mixers = number(row["mixers"], DOING_LABELS["mixers"], 1.0)
    if not 1 <= mixers <= MOST_MIXERS or mixers != int(mixers):
        mend = f"type a whole number from 1 to {MOST_MIXERS}"
        raise RangeError(f"it is {mixers:g}", mend, DOING_LABELS["mixers"])
    hands = number(row["hands"], DOING_LABELS["hands"], max(1.0, crew - mixers))
    if hands < 1 or hands != int(hands):
        raise RangeError(f"it is {hands:g}", "type 1, 2, 3 ...", DOING_LABELS["hands"])
    left = 0.0
    if not is_blank(row["batch_loss"]):
        left = reading.labelled(
            row["batch_loss"],
            "volume",
            DOING_LABELS["batch_loss"],
            system.small_volume,
            system.fluids,
        )
    heat = number(row["heat_passes"], DOING_LABELS["heat_passes"], 0.0)
    if not 0 <= heat <= MOST_HEAT_PASSES or heat != int(heat):
        mend = f"type a whole number from 0 to {MOST_HEAT_PASSES}"
        raise RangeError(f"it is {heat:g}", mend, DOING_LABELS["heat_passes"])
    most = None
    if not is_blank(row["most_area"]):
        most = number(row["most_area"], DOING_LABELS["most_area"])
        if most <= 0:
            mend = "type a number above 0, or clear it"
            raise RangeError(f"it is {most:g}", mend, DOING_LABELS["most_area"])
        most = units.to_si(most, system.area)
    cups = colours.read(row["cups"])
    carrying = USUAL_CARRYING * (1 + len(cups))
    share, joined = (
        _share(row, name, usual)
        for name, usual in (("share", USUAL_SHARE), ("joined", USUAL_JOINED))
    )
    if ranges_are_of() == 1:  # jobs of templates 1 kept no reserve
        share, carrying = 1.0, 0.0
    if not is_blank(row["carrying"]):
        minutes = number(row["carrying"], DOING_LABELS["carrying"])
        if minutes < 0:
            mend = "type 0 or more minutes, or clear it"
            raise RangeError(f"it is {minutes:g}", mend, DOING_LABELS["carrying"])
        carrying = minutes * working_table.MINUTE
    return Doing(
        bucket=bucket,
        hands=int(hands),
        pace=_with_effect(units.to_si(pace, system.area) / working_table.HOUR, seconds),
        batch_loss=left,
        keep_order=choice(row["keep_order"], DOING_LABELS["keep_order"], ("yes", "no"), "no")
        == "yes",
        cups=cups,
        heat_passes=int(heat),
        most_area=most,
        share=share,
        carrying=carrying,
        joined=joined,
        mixers=int(mixers),
        effect=effect,
    )


def _effect(row: dict[str, Value], system: units.System) -> tuple[str, float]:
    """Return what is worked into the wet film, and the time of one for each square metre, s/m²."""
    if is_blank(row["effect"]):
        if not is_blank(row["effect_pace"]):
            mend = "choose what takes these minutes, or clear them"
            raise BlankError("it is blank", mend, DOING_LABELS["effect"])
        return "", 0.0
    effect = choice(row["effect"], DOING_LABELS["effect"], EFFECTS)
    if is_blank(row["effect_pace"]):
        mend = f"type how many minutes one takes for each {system.area}"
        raise BlankError("it is blank", mend, DOING_LABELS["effect_pace"])
    minutes = number(row["effect_pace"], DOING_LABELS["effect_pace"])
    if not 0 <= minutes <= MOST_EFFECT:
        mend = f"type 0 to {MOST_EFFECT:g} minutes for each {system.area}"
        raise RangeError(f"it is {minutes:g}", mend, DOING_LABELS["effect_pace"])
    return effect, minutes * working_table.MINUTE / units.to_si(1.0, system.area)


def _with_effect(pace: float, seconds: float) -> float:
    """Return the pace of one who spreads and works the effect in, m²/s.

    Example:
        >>> _with_effect(0.01, 100.0)
        0.005
    """
    return pace / (1.0 + pace * seconds) if seconds else pace


def _share(row: dict[str, Value], name: str, usual: float) -> float:
    """Return a share of the pot life, above 0 and at most all of it."""
    share = number(row[name], DOING_LABELS[name], usual)
    if not 0 < share <= 1:
        mend = "type a share above 0 % and at most 100 %, such as 70 %, or clear it"
        raise RangeError(f"it is {share * 100:g} %", mend, DOING_LABELS[name])
    return share

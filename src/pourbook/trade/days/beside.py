"""What a job takes on site beside preparing and coating: before the first coat, between and after.

Contract: seconds in, :class:`pourbook.trade.days.schedule.Step` out, nothing placed. What takes no
time is left out. Common practice, no source, for all of it: sinks and cooktops are lifted out and
what stays is masked before anything is mended; fillers cure before they are sanded; dams and tape
go on last; drips under poured edges are sanded off once they are dry; and somebody comes back, when
the coats may be used, to take the tape off and look the work over.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import fields

from pourbook.records import dataclass
from pourbook.trade.days.schedule import MILESTONE, WORK, Deed, Need, Step
from pourbook.trade.measuring import require

BARE = "bare surface: sand 220"


@dataclass(frozen=True)
class Beside:
    """Times, s; 0 leaves a step out.

    Attributes:
        lift_out: Lifting out what stands in the tops, the whole crew.
        mask: Masking, the whole crew.
        filler: Plain time from mending until fillers may be sanded or coated.
        bare: Sanding the bare surface, the whole crew; ``None`` where it is not sanded.
        dams: Dams and tape at the edges, the whole crew.
        back: The return visit, one person.
    """

    lift_out: float = 0.0
    mask: float = 0.0
    filler: float = 0.0
    bare: float | None = None
    dams: float = 0.0
    back: float = 0.0

    def __post_init__(self) -> None:
        """Refuse a time below 0."""
        require("0 or more", **{f.name: getattr(self, f.name) or 0.0 for f in fields(self)})


def before(prepare_seconds: Sequence[float], beside: Beside) -> tuple[list[Step], tuple[Need, ...]]:
    """Return the steps before the first coat, and what that coat waits for.

    Args:
        prepare_seconds: Length of each part of the preparation, s.
        beside: What else is done.

    Example:
        >>> steps, needs = before([3600.0], Beside(mask=1800.0, filler=7200.0))
        >>> [step.name for step in steps], [need.step for need in needs]
        (['mask', 'prepare', 'fillers cured'], ['prepare'])
    """
    parts = len(prepare_seconds)
    first = [
        Step("lift out", WORK, beside.lift_out, deed=Deed.LIFT_OUT),
        Step("mask", WORK, beside.mask, deed=Deed.MASK),
        *(
            Step(
                "prepare" if parts == 1 else f"prepare, part {i + 1}",
                WORK,
                seconds,
                deed=Deed.PREPARE,
                turn=i + 1,
            )
            for i, seconds in enumerate(prepare_seconds)
        ),
    ]
    steps = [step for step in first if step.work_seconds or step.deed is Deed.PREPARE]
    needs: tuple[Need, ...] = ()
    if beside.filler and parts:
        needs = (Need(steps[-1].name, beside.filler),)
        steps.append(Step("fillers cured", MILESTONE, needs=needs, deed=Deed.FILLED))
    then: list[Step] = []
    if beside.bare is not None:
        then.append(Step(BARE, WORK, beside.bare, deed=Deed.SAND_BARE))
    if beside.dams:
        then.append(Step("dams and tape", WORK, beside.dams, deed=Deed.DAMS))
    if then:
        then[0], needs = then[0]._replace(needs=needs), ()
    return steps + then, needs


def return_visit(needs: Sequence[Need], beside: Beside) -> list[Step]:
    """Return the step that ends a job, once everything it waits for has cured."""
    if not beside.back:
        return []
    return [Step("return visit", WORK, beside.back, tuple(needs), deed=Deed.RETURN, hands=1)]

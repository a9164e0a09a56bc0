"""How a wrong entry is mended, in the estimator's words.

Contract: pure; the same words stand in the data validation of a cell and in what a check finds.
"""

from __future__ import annotations

from pourbook.workbook.layout.laid_out import Layout
from pourbook.workbook.template.template import Field

LONGEST_TEXT = 200
LONGEST_MESSAGE = 225


def mend(plan: Layout, item: Field) -> str:
    """Return how to mend a wrong entry, in the estimator's words.

    The text stands in the data validation and in the findings of ``pourbook check``.
    """
    if item.kind == "choice":
        if item.choices_from:
            return "Choose a name from the list; the names come from another sheet of this job."
        said = "Choose one of: " + ", ".join(item.choices) + "."
        return said if len(said) <= LONGEST_MESSAGE else "Choose one from the list of the cell."
    if item.kind == "number":
        unit = plan.unit(item.unit).replace("@money", "money")
        what = "a whole number" if item.whole else "a number"
        percent = unit == "%"
        if percent:
            what, unit = "a percentage", ""
        words = [f"Type {what}" + (f" in {unit}" if unit else "")]
        words += ["7 for 7 %"] if percent else []

        def show(x: float) -> str:
            return f"{x * 100:g} %" if percent else f"{x:g}"

        low, high = item.minimum, item.maximum
        ends = [f"at least {show(low)}"] if low is not None else []
        ends += [f"above {show(item.above)}"] if item.above is not None else []
        ends += [f"at most {show(high)}"] if high is not None else []
        ends += [f"below {show(item.below)}"] if item.below is not None else []
        return ", ".join([*words, " and ".join(ends)] if ends else words) + "."
    if item.kind == "date":
        return "Type a date after 1999, such as 2026-11-24."
    if item.kind == "measure":
        text = plan.text(item.help)
        return f"Type a number or a measure with its unit. {text}"
    if item.kind == "ratio":
        return f"Type the parts with colons between them, such as 2:1. {plan.text(item.help)}"
    return f"Type a text of at most {LONGEST_TEXT} characters."

"""The result columns of PB_DAYS: its lines, and aside of them layers, visits and batches.

Contract: plain declarations; :mod:`pourbook.functions.days` fills them, and what looks a column up
finds its place here.
"""

from __future__ import annotations

from pourbook.tables.declared import Column

SPANS = (
    Column("span", "The layer, or the preparation"),
    Column("span_label", "The same with the day its work begins, for charts of templates 1"),
    Column("work_from", "When its work begins"),
    Column("work_until", "When its work ends"),
    Column("next_from", "When the next coat may go on"),
    Column("next_until", "Until when it may, without sanding"),
    Column("touch_dry", "When it is touch dry"),
    Column("light_use", "When light use may begin"),
    Column("hard_use", "When it is fully cured"),
)
ON_SITE = (
    Column("visit_from", "When the crew begins on a date on site"),
    Column("visit_until", "When it ends there"),
    Column("visit_people", "How many of the crew are on site"),
    Column("batch_warmth", "The warmest each batch of the option meets", "temperature"),
)
RESULTS = (
    Column("step", "What is done, or what is reached"),
    Column("day_layer", "Which layer"),
    Column("starts", "When it begins, as date and time"),
    Column("ends", "When it ends"),
    Column("hours", "How long it takes the crew, h"),
    Column("air", "For a batch: go, wait or don't"),
    Column("day_status", "ok, or why the calendar cannot be kept"),
    Column("day_note", "What the calendar had to change, or what is wrong with the air"),
    *SPANS,
    *ON_SITE,
)

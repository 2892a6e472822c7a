"""Which edition of a rulebook a record's date picks; never silently the latest."""

from __future__ import annotations

import datetime as dt
from typing import TYPE_CHECKING

from msgspec import Struct
from msgspec.structs import replace

from ridgerule.rulebook import DateKind

if TYPE_CHECKING:
    from ridgerule.audit.plan import Edition, Plan, PlannedBook
    from ridgerule.record import Record


class InUse(Struct, frozen=True):
    """The edition an audit uses, and why it is not sure, where it is not."""

    edition: Edition
    doubt: str = ""
    note: str = ""
    possible: tuple[Edition, ...] = ()
    """The editions it may have to be, where there is a doubt."""


def editions_in_use(plan: Plan, record: Record) -> tuple[InUse, ...]:
    """Return one edition for each rulebook of the plan, in the plan's order."""
    picked = ((planned, _pick(planned, record)) for planned in plan.books)
    return tuple(
        replace(used, possible=planned.editions) if used.doubt else used for planned, used in picked
    )


def _pick(planned: PlannedBook, record: Record) -> InUse:
    newest = planned.editions[-1]
    kind = newest.book.in_force_by
    if kind is None and len(planned.editions) == 1:
        return InUse(newest)
    if kind is None or any(edition.book.in_force_by is not kind for edition in planned.editions):
        listed = ", ".join(edition.book.edition for edition in planned.editions)
        doubt = f"{planned.reference} has editions {listed} that no one date tells apart"
        return InUse(newest, f"{doubt}: name one as id@edition")
    day, why = _day(record, kind)
    if day is None:
        return InUse(
            newest, f"which edition of {planned.reference} is in force is not known: {why}"
        )
    covering = [edition for edition in planned.editions if edition.book.in_force.covers(day)]
    if len(covering) == 1:
        period = covering[0].book.in_force
        return InUse(covering[0], note=f"in force {period}, by the {kind} date {day}")
    if covering:
        listed = ", ".join(edition.book.edition for edition in covering)
        return InUse(newest, f"several editions are in force on the {kind} date {day}: {listed}")
    listed = "; ".join(f"{e.book.edition} {e.book.in_force}" for e in planned.editions)
    doubt = f"no edition at hand was in force on the {kind} date {day} ({listed})"
    return InUse(newest, doubt)


def _day(record: Record, kind: DateKind) -> tuple[dt.date | None, str]:
    readings = record.roof.readings.get(f"{kind}_date", ())
    value = readings[0].value if readings else None
    if isinstance(value, dt.date):
        return value, ""
    reason = readings[0].unknown if readings else "not recorded"
    key = "inspection: {date: …}" if kind is DateKind.INSPECTION else f"dates: {{{kind}: …}}"
    return None, f"the {kind} date is {reason} (`{key}`)"

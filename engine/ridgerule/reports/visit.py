"""The roof and the visit that a record is of, in words."""

from __future__ import annotations

from typing import TYPE_CHECKING

from msgspec import Struct

from ridgerule import __version__
from ridgerule.audit.subjects import value_text

if TYPE_CHECKING:
    from ridgerule.record import Record


class RoofView(Struct, frozen=True):
    """The roof the record is of."""

    id: str
    name: str
    place: str
    covering: str


class VisitView(Struct, frozen=True):
    """What a page says of a record before anything that was found."""

    version: str
    """Of ridgerule."""
    roof: RoofView
    inspection: tuple[tuple[str, str], ...]
    file: str
    digest: str
    """SHA-256 of the raw file."""


def visit_view(record: Record) -> VisitView:
    """Return the roof and the visit that a record is of."""
    document = record.document
    return VisitView(
        version=__version__,
        roof=roof_view(record),
        inspection=inspection_words(record),
        file=document.name,
        digest=document.digest,
    )


def roof_view(record: Record) -> RoofView:
    """Return the roof that a record is of."""
    roof = record.roof
    return RoofView(roof.id, record.name, _said(record, "place"), _said(record, "covering"))


def _said(record: Record, fact: str) -> str:
    """Return what the record says of a fact of the roof, or an empty string."""
    readings = record.roof.readings.get(fact, ())
    value = readings[0].value if readings else None
    return "" if value is None else value_text(value)


_VISIT = ("body", "client", "purpose", "method", "weather", "access", "note")


def inspection_words(record: Record) -> tuple[tuple[str, str], ...]:
    """Return the visit in words, key by key; the date and the inspector always stand first."""
    said = record.inspection
    temperature = _said(record, "air_temperature")
    optional = [("temperature", temperature), *((key, said.get(key, "")) for key in _VISIT)]
    return (
        ("date", _said(record, "inspection_date")),
        ("inspector", said.get("inspector", "")),
        *((key, words) for key, words in optional if words),
    )

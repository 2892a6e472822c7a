"""Which of a place's stations a table speaks of: by where it is, and by its number."""

from __future__ import annotations

from typing import TYPE_CHECKING

from msgspec import Struct

from ridgerule.facts import SECTIONS, Element
from ridgerule.plain_data import items_in, mapping_in, words_in
from ridgerule.quantities import Dimension, Quantity, read
from ridgerule.record import unknown_reason

if TYPE_CHECKING:
    from ridgerule.documents import Data
    from ridgerule.tables.keys import Station


class Found(Struct, frozen=True):
    """What became of looking for a station: its index, or that it is new, or that several fit."""

    index: int = 0
    is_new: bool = False
    several: tuple[int, ...] = ()
    """The numbers of the stations that it could be."""


class _Seen(Struct, frozen=True):
    spot: str
    number: int
    row: int = 0
    is_recorded: bool = True


class Stations:
    """The stations of one place: those of the record, and those that tables have added."""

    def __init__(self, section: str, place: Data) -> None:
        self._is_line = section == SECTIONS[Element.LINE]
        items = items_in(mapping_in(place).get("stations"))
        spots = (self._spot(mapping_in(item).get("at")) for item in items)
        self._seen = [_Seen(spot, number) for number, spot in enumerate(spots, start=1)]

    def find(self, station: Station) -> Found:
        """Return which station is meant; a new one counts among them from now on."""
        spot = self._spot(station.position)
        mine = [i for i, seen in enumerate(self._seen) if not seen.is_recorded]
        for i in mine:
            if self._is_same_row(self._seen[i], station, spot):
                return Found(i)
        recorded = [i for i, seen in enumerate(self._seen) if seen.is_recorded]
        numbered = [i for i in recorded if self._seen[i].number == station.number]
        if numbered and spot in ("", self._seen[numbered[0]].spot):
            return Found(numbered[0])
        there = [i for i in recorded if spot and self._seen[i].spot == spot]
        if len(there) > 1:
            return Found(several=tuple(self._seen[i].number for i in there))
        if there:
            return Found(there[0])
        self._seen.append(_Seen(spot, station.number, station.row, is_recorded=False))
        return Found(len(self._seen) - 1, is_new=True)

    @staticmethod
    def _is_same_row(seen: _Seen, station: Station, spot: str) -> bool:
        """Tell whether two rows are about one station that the record does not have."""
        if spot != seen.spot or station.number != seen.number:
            return False
        # Where it is not known where they are, two rows that are stations are two stations.
        return bool(spot or station.number) or station.row == seen.row

    def _spot(self, at: Data) -> str:
        """Return where a station is, in one spelling; empty where that is not known."""
        if unknown_reason(at):
            return ""
        written = words_in(at)
        length = read(written, Dimension.LENGTH) if self._is_line else None
        if isinstance(length, Quantity):
            return str(length.amount)
        return " ".join(written.casefold().split())

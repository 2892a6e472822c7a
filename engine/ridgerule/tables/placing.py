"""The places and stations that tables speak of: found in a record, or added to it."""

from __future__ import annotations

from typing import TYPE_CHECKING

from ridgerule.facts import SECTIONS, Element
from ridgerule.plain_data import mapping_in
from ridgerule.problems import shown, suggestion, with_article
from ridgerule.tables.drafts import Change, Did, label_at
from ridgerule.tables.keys import ELEMENTS, HOST_SECTIONS, INSTRUMENTS, PLACE_SECTIONS, Spot, Told
from ridgerule.tables.station_finding import Stations

if TYPE_CHECKING:
    from collections.abc import Iterable

    from ridgerule.documents import Path
    from ridgerule.tables.drafts import Draft

SETS_UP = frozenset(
    {"", "name", "kind", "between", "from", "plane", "planes", "slope", "faces", "of"}
)
"""Keys that nobody writes of a place by a slip in its id; the empty one says that it is there."""


class Placing:
    """Finds the place or station of whatever a table says, and adds those that are new."""

    def __init__(self, draft: Draft, told: Iterable[Told]) -> None:
        self._draft = draft
        self._stations: dict[Path, Stations] = {}
        self._set_up = self._places_set_up(told)
        self._refused: set[Spot] = set()

    def path_of(self, told: Told) -> Path | None:
        """Return where in the record something belongs; None where its place can't be found."""
        spot = told.spot
        if spot.section not in (*PLACE_SECTIONS, INSTRUMENTS):
            return (spot.section,)
        path: Path = (spot.section, spot.place)
        is_new = spot.place not in mapping_in(self._draft.node((spot.section,)))
        if is_new and not self._add_place(told, path):
            return None
        if spot.station is None:
            return path
        if spot.section not in HOST_SECTIONS:
            self._refuse_stations(told)
            return None
        return self._station(told, path)

    def _places_set_up(self, told: Iterable[Told]) -> set[tuple[str, str]]:
        """Return the places that are in the record, or that tables say something of to begin with.

        To a record with places of a kind, only what sets one up adds another: an id may be a slip.
        """
        found = {
            (section, id_)
            for section in PLACE_SECTIONS
            for id_ in mapping_in(self._draft.node((section,)))
        }
        started = {section for section, _ in found}
        return found | {
            (each.spot.section, each.spot.place)
            for each in told
            if each.spot.station is None
            and (each.key in SETS_UP or each.spot.section not in started)
        }

    def _add_place(self, told: Told, path: Path) -> bool:
        section, id_ = told.spot.section, told.spot.place
        others = [place for where, place in self._set_up if where == section]
        where = told.cells.place or told.where
        if section != INSTRUMENTS and others and (section, id_) not in self._set_up:
            if Spot(section, id_) not in self._refused:
                noun = ELEMENTS[section]
                advice = suggestion(id_, others)
                advice = f"{advice} Else add" if advice else "mend the id, or add"
                kind = ", with its kind" if section == SECTIONS[Element.LINE] else ""
                self._draft.tell(
                    where,
                    f"{with_article(noun)} of the record or of these tables",
                    f"`{shown(id_)}`",
                    f"{advice} a row for it in a table of {section}{kind}",
                )
            self._refused.add(Spot(section, id_))
            return False
        self._draft.mapping(path)
        self._draft.origins[path] = self._draft.keys[path] = where
        if section != INSTRUMENTS:
            self._draft.changes.append(Change(Did.NEW_PLACE, path, "", "", "", where))
        return True

    def _refuse_stations(self, told: Told) -> None:
        expected = f"no position in {with_article(ELEMENTS.get(told.spot.section, 'row'))}"
        where = told.cells.position or told.where
        self._draft.tell(where, expected, "one", "only lines and planes have stations")

    def _station(self, told: Told, place: Path) -> Path | None:
        station = told.spot.station
        if station is None:
            return place
        if place not in self._stations:
            self._stations[place] = Stations(told.spot.section, self._draft.node(place))
        found = self._stations[place].find(station)
        where = told.cells.position or told.where
        if found.several:
            numbers = " and ".join(map(str, found.several))
            expected = "a position that one station has, or its number in a column `station`"
            label = label_at(self._draft.data, place)
            shows = f"`{shown(station.position)}`, where {label} has stations {numbers}"
            self._draft.tell(where, expected, shows, "number the station that is meant")
            return None
        path: Path = (*place, "stations", found.index)
        if found.is_new:
            holder = self._draft.mapping(place)
            stations = holder.get("stations")
            listed = stations if isinstance(stations, list) else []
            listed.append({} if station.position is None else {"at": station.position})
            holder["stations"] = listed
            self._draft.origins[path] = self._draft.origins[(*path, "at")] = where
            self._draft.changes.append(Change(Did.NEW_STATION, path, "", "", "", where))
        return path

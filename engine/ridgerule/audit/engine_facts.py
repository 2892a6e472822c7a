"""The engine's own computed facts: the trade's computations over facts that a record can hold.

None holds a maker's or a code's figure; what needs one is computed in a rulebook's `derive:`.
"""

from __future__ import annotations

from functools import lru_cache
from types import MappingProxyType
from typing import TYPE_CHECKING

from ridgerule.audit.derivations import Derive, with_derived
from ridgerule.documents import Document
from ridgerule.rulebook import Field
from ridgerule.vocabulary import VOCABULARY

if TYPE_CHECKING:
    from ridgerule.documents import Data
    from ridgerule.facts import Vocabulary

_SLOPES, _FACES = "each plane.slope", "each plane.faces"
_AT_CORNER: dict[str, Data] = {"slopes": _SLOPES, "corner": "line.plan_corner"}


def _reckoned(dimension: str, measure: str, name: str, **inputs: Data) -> dict[str, Data]:
    named = {key.replace("_", " "): value for key, value in inputs.items()}
    return {"dimension": dimension, "measure": measure, "reckon": name, "with": named}


_ENTRIES: dict[str, dict[str, Data]] = {
    # Geometry
    "line.included_angle": _reckoned(
        "angle", "between the two planes, inside the roof, from their slopes and directions",
        "included angle", slopes=_SLOPES, faces=_FACES, kind="line.kind",
    ),
    "line.plan_corner": _reckoned(
        "angle", "in plan between the eaves that the line runs from, inside the roof",
        "plan corner", faces=_FACES, kind="line.kind",
    ),
    "line.angle_difference": _reckoned(
        "angle", "between the angle finder's reading and the angle that the planes give",
        "difference of two angles", first="line.angle", second="line.included_angle",
    ),
    "line.hip_slope": _reckoned(
        "slope", "of the hip itself, rise over its run in plan", "hip slope", **_AT_CORNER
    ),
    "line.hip_factor": _reckoned(
        "share", "length of hip for each length of the first plane's common run",
        "hip factor", **_AT_CORNER,
    ),
    "line.backing_first": _reckoned(
        "angle", "bevel on top of the hip on the side of the first plane named",
        "backing of the first side", **_AT_CORNER,
    ),
    "line.backing_second": _reckoned(
        "angle", "bevel on top of the hip on the side of the second plane named",
        "backing of the second side", **_AT_CORNER,
    ),
    "line.hip_length": _reckoned(
        "length", "of the hip, from the common run", "hip length from common run",
        common_run="line.common_run", **_AT_CORNER,
    ),
    "plane.slope_factor": _reckoned(
        "share", "length along the slope for each level length", "slope factor", slope="plane.slope"
    ),
    # Fastening
    "station.computed_penetration": _reckoned(
        "length", "into the deck, from the fastener's length and what it passes", "penetration",
        fastener_length="plane.fastener_length", passed="station.passed",
    ),
    # Ventilation
    "line.vent_open_length": _reckoned(
        "length", "of the line whose slot is open", "open length of a run",
        length="line.length", closed="line.vent_closed",
    ),
    "line.vent_free_area": _reckoned(
        "area", "net free area of the vent over its open length", "free area of a run",
        area_per_length="line.vent_per_length", open_length="line.vent_open_length",
    ),
    "attic.free_area": {
        "dimension": "area",
        "measure": "net free area of the space, high and low together",
        "sum": ["attic.free_area_high", "attic.free_area_low"],
    },
    "attic.high_share": {
        "dimension": "share",
        "measure": "net free area up high as a share of what is provided in all",
        "share": ["attic.free_area_high", "attic.free_area"],
    },
    # Movement
    "roof.expansion": {
        "dimension": "expansion coefficient",
        "measure": "coefficient of linear expansion of the slates, from least to greatest",
        "interval": {"from": "roof.expansion_least", "to": "roof.expansion_greatest"},
    },
    "station.gap_hottest": _reckoned(
        "length", "gap left on the hottest day reckoned with", "gap left at a temperature",
        gap="station.gap", edge_distances="each station.fastener_to_edge",
        expansion="roof.expansion", surface_temperature="station.surface_temperature",
        target_temperature="roof.hottest_surface",
    ),
    "station.gap_coldest": _reckoned(
        "length", "gap on the coldest day reckoned with", "gap left at a temperature",
        gap="station.gap", edge_distances="each station.fastener_to_edge",
        expansion="roof.expansion", surface_temperature="station.surface_temperature",
        target_temperature="roof.coldest_surface",
    ),
    # Take-off and delivery
    "line.caps_needed": _reckoned(
        "count", "caps to be laid on the line, starts, mitres and waste included",
        "caps needed on a line", length="line.length", exposure="line.cap_exposure",
        starts="line.cap_starts", mitres="line.cap_mitres", waste="roof.cap_waste",
    ),
    "delivery.caps_needed": {
        "dimension": "count",
        "measure": "caps to be laid on the lines that the delivery is for",
        "sum": ["each line.caps_needed"],
    },
    "delivery.caps_short": _reckoned(
        "count", "caps that the delivery lacks for its lines", "caps short",
        needed="delivery.caps_needed", delivered="delivery.caps",
    ),
    "delivery.caps_over": _reckoned(
        "count", "caps beyond what its lines need", "caps over",
        needed="delivery.caps_needed", delivered="delivery.caps",
    ),
}  # fmt: skip
"""Each is a `derive:` entry; the pieces of data are what a rulebook's file would hold."""


@lru_cache(1)
def engine_vocabulary() -> Vocabulary:
    """Return the facts that every rulebook knows: those recorded and those computed."""
    data: dict[str, Data] = dict(_ENTRIES)
    document = Document("engine", data, "", MappingProxyType({}), MappingProxyType({}))
    entries = [
        Derive(name, Field(entry, document, (name,), "engine")) for name, entry in data.items()
    ]
    vocabulary, problems = with_derived(VOCABULARY, entries)
    if problems:
        raise TypeError(f"the engine's own computed facts: {problems}")
    return vocabulary

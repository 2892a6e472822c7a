"""An archive of finished roofs for tests and for the benchmark: any number, from a seed.

Every roof is invented. They are built like the clean fixture, some 430 checks by the demo
rulebooks each; what varies is what varies in an archive, as often as stated beside it:

* of its own in every record: id, name, dates, the names of all photos;
* by the job: one of six regions (climate, temperatures), one of 11 sizes, three ridge lengths;
* by the reading: the gap in sixteenths (5 values, seven of ten times the same), where a station
  lies (24), the surface temperature in whole degrees (51), the distance of fasteners (4 a side),
  hip lengths to a quarter inch (3 about the computed one), membrane widths (3), setbacks (3).

One record in twenty fails or is open by a change that `FAULTS` lists with what it comes to.
"""

from __future__ import annotations

import copy
import datetime as dt
import json
import random
from functools import lru_cache
from math import ceil, sqrt
from pathlib import Path
from typing import TYPE_CHECKING, Any

from ridgerule.documents import load_document

if TYPE_CHECKING:
    from collections.abc import Iterator

FIXTURE = Path(__file__).parent.parent / "fixtures" / "clean" / "mill-bank.yaml"
FAULTY_ONE_IN = 20
REGIONS = (
    (4, "150 degF", "0 degF"), (5, "160 degF", "-15 degF"), (5, "155 degF", "-10 degF"),
    (6, "150 degF", "-20 degF"), (6, "145 degF", "-15 degF"), (3, "165 degF", "10 degF"),
)  # fmt: skip
RUNS = tuple(range(96, 137, 4))
"""Common runs in inches: 8 ft to 11 ft 4 in by 4 in."""
GAPS = ("3 1/8 in",) * 14 + (
    "3 1/16 in",
    "3 3/16 in",
    "3 3/16 in",
    "3 1/4 in",
    "3 5/32 in",
    "3 1/8 in",
)
FAULTS: tuple[tuple[tuple[str | int, ...], Any, str], ...] = (
    (("lines", "H1", "stations", 1, "gap"), "2 1/2 in", "fail"),
    (("lines", "H3", "stations", 0, "gap"), "2 5/8 in", "fail"),
    (("planes", "S", "fastener"), "smooth-shank nail", "fail"),
    (("lines", "H2", "caps_at_marks"), "no", "fail"),
    (("joints", "J5", "mitred"), "no", "fail"),
    (("openings", "P1", "flashed"), "no", "fail"),
    (("lines", "H4", "membrane"), "unknown", "not verified"),
    (("lines", "R1", "cap_sealant"), "can't reach", "not verified"),
    (("planes", "N", "deck_thickness"), {"value": "5/8 in", "how": "stated", "by": "crew"},
     "not verified"),
    (("joints", "J2", "overhang"), "unknown", "not verified"),
)  # fmt: skip
"""Where a record is changed, to what, and what the roof then comes to."""


@lru_cache(1)
def _template() -> dict[str, Any]:
    data: Any = load_document(FIXTURE).data
    del data["inspection"]["weather"]
    return data


def inches(size: float, parts: int = 4) -> str:
    """Return a length as the trade writes it, to one part of an inch."""
    whole, rest = divmod(round(size * parts), parts)
    feet, inch = divmod(whole, 12)
    fraction = f" {rest}/{parts}" if rest else ""
    while fraction and rest % 2 == 0:
        rest, parts = rest // 2, parts // 2
        fraction = f" {rest}/{parts}"
    return f"{feet} ft {inch}{fraction} in" if inch or fraction else f"{feet} ft"


def record(seed: int) -> dict[str, Any]:
    """Return one roof's record as plain data: sound, or with the fault its seed gives it."""
    draw = random.Random(seed)
    data = copy.deepcopy(_template())
    run = draw.choice(RUNS)
    ridge = draw.choice((15, 18, 21))
    _house(data, draw, seed, run, ridge)
    hip = run * sqrt(2 + (7 / 12) ** 2)
    caps = 0
    for name in ("H1", "H2", "H3", "H4"):
        line = data["lines"][name]
        size = round(hip * 4) / 4 + draw.choice((-0.25, 0, 0, 0.25))
        line["length"], line["common_run"] = inches(size), inches(run)
        width = draw.choice(("12 in", "12 in", "12 1/2 in", "13 in"))
        line["membrane_width"]["value"] = width
        _stations(line, draw, seed, name)
        caps += ceil(round(size * 4) / 4 / 8 * 1.05) + 4
    _ridge(data, draw, ridge)
    caps += ceil(ridge * 12 / 8 * 1.05) + 6
    data["deliveries"]["D1"]["caps"] = caps
    _photos(data, f"photos/{seed:06}")
    if fault := fault_of(seed):
        path, value, _ = fault
        holder: Any = data
        for step in path[:-1]:
            holder = holder[step]
        holder[path[-1]] = copy.deepcopy(value)
    return data


def fault_of(seed: int) -> tuple[tuple[str | int, ...], Any, str] | None:
    """Return the fault of a record, None where it is sound."""
    draw = random.Random(f"fault {seed}")
    return draw.choice(FAULTS) if draw.randrange(FAULTY_ONE_IN) == 0 else None


def outcome_of(seed: int) -> str:
    """Return what a record comes to by the demo rulebooks."""
    fault = fault_of(seed)
    return fault[2] if fault else "pass"


def lines(count: int, first: int = 0) -> Iterator[bytes]:
    """Yield records as lines of JSON without needless spaces, each with its line end."""
    for seed in range(first, first + count):
        text = json.dumps(record(seed), separators=(",", ":"), ensure_ascii=False)
        yield text.encode() + b"\n"


def _house(data: dict[str, Any], draw: random.Random, seed: int, run: int, ridge: int) -> None:
    zone, hottest, coldest = draw.choice(REGIONS)
    roof = data["roof"]
    roof |= {
        "id": f"AR-{seed:06}", "name": f"House {seed} (invented)", "climate_zone": zone,
        "hottest_surface": hottest, "coldest_surface": coldest,
    }  # fmt: skip
    permit = dt.date(2026, 4, 1) + dt.timedelta(days=draw.randrange(600))
    days = {"permit": 0, "installation": 50 + draw.randrange(30), "registration": 90}
    data["dates"] = {key: str(permit + dt.timedelta(days=more)) for key, more in days.items()}
    data["installation"]["by"] = f"crew {draw.randrange(1, 15)}"
    data["inspection"] |= {
        "date": str(permit + dt.timedelta(days=85 + draw.randrange(20))),
        "inspector": f"inspector {draw.randrange(1, 10)}",
        "temperature": f"{draw.randrange(40, 91)} degF",
    }
    eave, end = ridge * 12 + 2 * run, 2 * run
    for name, size in (("E1", eave), ("E2", end), ("E3", eave), ("E4", end)):
        data["lines"][name]["length"] = inches(size)
    attic = data["attics"]["main"]
    area = ceil(eave * end / 144)
    attic["retarder_class"] = "II"
    attic["vented_area"] = f"{area} ft2"
    attic["free_area_high"] = f"{round(area * 0.225)} in2"
    attic["free_area_low"] = f"{ceil(area * 0.4)} in2"


def _stations(line: dict[str, Any], draw: random.Random, seed: int, name: str) -> None:
    for i, station in enumerate(line["stations"]):
        place = (24, 84, 144)[i] + draw.choice((-6, -3, -2, -1, 0, 0, 1, 2))
        station["at"] = inches(place)
        station["gap"] = draw.choice(GAPS)
        if "surface_temperature" in station:
            station["surface_temperature"] = f"{draw.randrange(60, 111)} degF"
            sides = station["fastener_to_edge"]
            for side in sides:
                sides[side] = draw.choice(("5 in", "5 in", "5 1/4 in", "5 1/2 in", "4 3/4 in"))
            station["gap"] = {"value": station["gap"], "how": "cap lifted", "photo": "gap.jpg"}


def _ridge(data: dict[str, Any], draw: random.Random, ridge: int) -> None:
    line = data["lines"]["R1"]
    line["length"] = f"{ridge} ft"
    line["vent_area"]["value"] = f"{12 * ridge} in2"
    for station in line["stations"]:
        for side in station["setback"]:
            station["setback"][side] = draw.choice(
                ("2 1/4 in", "2 1/4 in", "2 5/16 in", "2 3/8 in")
            )


def _photos(data: Any, folder: str) -> None:
    """Give every photo a name of its own."""
    if isinstance(data, dict):
        for key, item in data.items():
            if key == "photo" and isinstance(item, str):
                data[key] = f"{folder}/{item.rpartition('/')[2]}"
            else:
                _photos(item, folder)
    elif isinstance(data, list):
        for item in data:
            _photos(item, folder)

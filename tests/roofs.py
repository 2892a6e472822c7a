"""Roofs for tests, made from a seed: plain data of a record, as a YAML file would give it."""

from __future__ import annotations

import copy
import random
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterator

    from ridgerule.documents import Data, Path

MEASURED = {"7:12": "138 deg", "8:12": "135.5 deg", "9:12": "129.5 deg"}
SHOWN = {"how": "photo during work", "photo": "work.jpg"}


def shown(value: Data) -> dict[str, Data]:
    """Return a reading that a photo taken during the work shows."""
    return {"value": value, **SHOWN}


def sound_roof(seed: int) -> dict[str, Data]:
    """Return a small roof that keeps every rule of common practice: a hip and a vented ridge.

    The values vary with the seed and lie on or inside the limits. Every other roof has its angle
    measured, within 2 deg of the 138.25, 133.81 or 129.79 that slopes and directions give.
    """
    draw = random.Random(seed)
    gap = draw.choice(["3 1/16 in", "3 1/8 in", "78 mm", "3.125 in"])
    exposure = draw.choice(["8 in", "10 in", "203 mm"])
    slope = draw.choice(["7:12", "8:12", "9:12"])
    cap = "120 deg"
    line = {
        "between": ["S", "E"],
        "cap_profile": cap,
        "caps_at_marks": "yes",
        "fasteners_hidden": "yes",
        "flashed": "yes",
        "colour_matched": "yes",
        "length": "12 ft",
    }
    cap_station = {
        "cap_exposure": exposure,
        "fasteners": shown(2),
        "overdriven": "no",
        "through_deck": "yes",
    }
    hip = {
        **line,
        "kind": "hip",
        "cut_straight": "yes",
        "membrane": shown("yes"),
        "membrane_width": shown(draw.choice(["8 in", "9 in", "210 mm"])),
        "membrane_standard": shown("D1970"),
        "stations": [{"at": f"{at} ft", "gap": gap, **cap_station} for at in (2, 6, 10)],
    }
    if seed % 2:
        hip |= {"angle_taken": "yes", "angle": MEASURED[slope]}
    else:
        hip["angle_taken"] = "no"
    plane = {
        "slope": slope,
        "exposure": exposure,
        "fastener": draw.choice(["ring-shank nail", "screw"]),
        "fasteners_hidden": "yes",
        "stations": [
            {
                "at": "middle",
                "exposure": exposure,
                "fasteners": shown(2),
                "overdriven": "no",
                "through_deck": "no",
                "penetration": shown(draw.choice(["3/4 in", "20 mm"])),
            }
        ],
    }
    return {
        "record": 1,
        "roof": {"id": f"generated-{seed}", "covering": "composite slate"},
        "complete": {
            "planes": "all", "hips": "all", "ridges": "none", "valleys": "none",
            "eaves": "none", "rakes": "none", "joints": "all", "openings": "none",
            "walls": "none", "attics": "none", "deliveries": "none", "samples": "none",
        },
        "planes": {
            "S": {**copy.deepcopy(plane), "faces": "180 deg"},
            "E": {**copy.deepcopy(plane), "faces": "90 deg"},
        },
        "lines": {"H1": hip},
        "joints": {"J1": {"kind": "first cap", "lines": ["H1"], "overhang": "1/2 in"}},
    }  # fmt: skip


FAULTS: tuple[tuple[Path, Data], ...] = (
    (("lines", "H1", "stations", 0, "gap"), "3 in"),
    (("lines", "H1", "stations", 1, "gap"), "2 1/2 in"),
    (("lines", "H1", "stations", 2, "gap"), "4 in"),
    (("lines", "H1", "membrane_width"), shown("7 15/16 in")),
    (("lines", "H1", "membrane_standard"), shown("D4869")),
    (("lines", "H1", "membrane"), shown("no")),
    (("lines", "H1", "cap_profile"), "160 deg"),
    (("lines", "H1", "caps_at_marks"), "no"),
    (("lines", "H1", "fasteners_hidden"), "no"),
    (("lines", "H1", "cut_straight"), "no"),
    (("lines", "H1", "stations", 1, "cap_exposure"), "11 in"),
    (("lines", "H1", "stations", 2, "fasteners"), shown(1)),
    (("lines", "H1", "stations", 0, "overdriven"), "yes"),
    (("planes", "S", "fastener"), "smooth-shank nail"),
    (("planes", "E", "fasteners_hidden"), "no"),
    (("planes", "S", "stations", 0, "penetration"), shown("11/16 in")),
    (("planes", "E", "stations", 0, "fasteners"), shown(3)),
    (("planes", "E", "stations", 0, "overdriven"), "yes"),
    (("joints", "J1", "overhang"), "1 1/2 in"),
)
"""Each makes a sound roof break one rule or more of common practice."""


def faulty_roof(seed: int) -> dict[str, Data]:
    """Return a sound roof with one value changed so that it fails."""
    path, value = FAULTS[seed % len(FAULTS)]
    return changed(sound_roof(seed), path, value)


def value_paths(data: Data, path: Path = ()) -> Iterator[Path]:
    """Yield the path of every scalar in `data`."""
    if isinstance(data, dict):
        for key, item in data.items():
            yield from value_paths(item, (*path, key))
    elif isinstance(data, list):
        for i, item in enumerate(data):
            yield from value_paths(item, (*path, i))
    else:
        yield path


def changed(data: dict[str, Data], path: Path, value: Data) -> dict[str, Data]:
    """Return a copy of `data` with the node at `path` set to `value`."""
    copied = copy.deepcopy(data)
    _holder(copied, path)[path[-1]] = copy.deepcopy(value)  # type: ignore[index, call-overload]
    return copied


def without(data: dict[str, Data], path: Path) -> dict[str, Data]:
    """Return a copy of `data` without the node at `path`; an item of a list is left blank."""
    if isinstance(path[-1], int):
        return changed(data, path, None)
    copied = copy.deepcopy(data)
    del _holder(copied, path)[path[-1]]  # type: ignore[arg-type]
    return copied


def _holder(data: Data, path: Path) -> dict[str, Data] | list[Data]:
    for step in path[:-1]:
        data = data[step]  # type: ignore[index, call-overload]
    assert isinstance(data, (dict, list))
    return data

"""Entries of `derive:` that are wrong, each with all that is said of it."""

from __future__ import annotations

import re
from typing import Any

import pytest

from test_derive import book, entry
from workshop import plan, problems, rule

RECKONED = {"reckon": "penetration", "with": {"fastener length": "line.a", "passed": "line.b"}}


def _x(**given: Any) -> dict[str, Any]:
    """Return a `derive:` section of one fact, `line.x`."""
    return {"line__x": entry(**given)}


BROKEN: dict[str, tuple[dict[str, Any], tuple[str, ...]]] = {
    "unknown fact": (
        _x(dimension="length", sum=["line.aa"]),
        (
            (
                "64:5: expected a fact that the engine or a loaded rulebook declares; found "
                "`line.aa`; did you mean `line.a`?"
            ),
        ),
    ),
    "unknown input": (
        _x(
            dimension="length",
            reckon="penetration",
            **{"with": {"fastener length": "line.a", "passed": "line.b", "dek": "1 in"}},
        ),
        ("67:5: expected an input of `penetration`; found `dek`; did you mean `deck`?",),
    ),
    "missing input": (
        _x(dimension="length", reckon="penetration", **{"with": {"passed": "line.b"}}),
        ("64:12: expected `fastener length:` from under the head to the point; found none",),
    ),
    "no inputs": (
        _x(dimension="length", reckon="penetration"),
        (
            "60:13: expected `fastener length:` from under the head to the point; found none",
            (
                "60:13: expected `passed:` the thickness of each layer it passes above the deck, "
                "one passed twice given twice; found none"
            ),
        ),
    ),
    "unknown computation": (
        _x(dimension="length", reckon="penetrations", **{"with": {}}),
        (
            (
                "63:14: expected one of the trade's computations; found `penetrations`; did you "
                "mean `penetration`?"
            ),
        ),
    ),
    "no such computation": (
        _x(dimension="length", reckon="zzz", **{"with": {}}),
        (
            (
                "63:14: expected one of the trade's computations; found `zzz`; there are included "
                "angle, included angle at a corner, plan corner, ridge angle, hip slope, hip angle "
                "from level, plan angle from the first eave, backing of the first side, backing of "
                "the second side, difference of two angles, angles agree, slope factor, rafter "
                "length, hip factor, hip length from common run, hip length from plan run, "
                "penetration, length beyond the deck, penetration from protrusion, through the "
                "deck, through the deck or deep enough, required fastener length, ventilation "
                "divisor, required free area, open length of a run, free area of a run, free area "
                "of counted vents, free area of screened openings, high share of required, high "
                "share of provided, low share of required, low share of provided, ventilation "
                "shortfall, length of vent to cure a shortfall, gap left at a temperature, growth, "
                "caps needed on a line, bundles needed, caps short, caps over, uncertainty of a "
                "tape, uncertainty of a graduation, combined uncertainty, sample size, confidence "
                "reached, greatest faulty share"
            ),
        ),
    ),
    "computation of another dimension": (
        _x(dimension="area", **RECKONED),
        ("61:17: expected `dimension: length`; found `area`",),
    ),
    "input of another dimension": (
        _x(
            dimension="length",
            reckon="penetration",
            **{"with": {"fastener length": "line.hot", "passed": "line.b"}},
        ),
        (
            (
                "65:24: expected length as `fastener length`; found `line.hot`, which gives "
                "temperature"
            ),
        ),
    ),
    "figure of another dimension": (
        _x(
            dimension="length",
            reckon="penetration",
            **{"with": {"fastener length": "20 degC", "passed": "line.b"}},
        ),
        (
            (
                "65:24: expected a length with its unit, such as `3 1/16 in` or `78 mm`; found `20 "
                "degC`, a temperature; write it as in `3 in` or `3 mm`"
            ),
        ),
    ),
    "word that is no choice": (
        _x(
            dimension="angle",
            reckon="included angle",
            **{"with": {"slopes": "each plane.slope", "faces": "each plane.faces", "kind": "hipp"}},
        ),
        (
            (
                "67:13: expected one of `hip`, `ridge`, `valley`, `eave`, `rake`; found `hipp`; did"
                " you mean `hip`?"
            ),
        ),
    ),
    "too many for an input": (
        _x(
            dimension="length",
            reckon="penetration",
            **{"with": {"fastener length": ["line.a", "line.b"], "passed": "line.b"}},
        ),
        ("65:24: expected 1 as `fastener length`; found 2; from under the head to the point",),
    ),
    "too few for an input": (
        _x(dimension="angle", reckon="ridge angle", **{"with": {"slopes": ["7:12"]}}),
        ("65:15: expected 2 as `slopes`; found 1; the slopes of the two planes",),
    ),
    "each for one": (
        _x(
            dimension="length",
            reckon="penetration",
            **{"with": {"fastener length": "each plane.exposure", "passed": "line.b"}},
        ),
        (
            (
                "65:24: expected one value: `least`, `greatest`, `mean` or `spread`; found `each "
                "plane.exposure`"
            ),
        ),
    ),
    "two ways": (
        _x(dimension="length", sum=["line.a"], least=["line.b"]),
        (
            (
                "60:13: expected one of `sum`, `difference`, `apart`, `product`, `ratio`, `share`, "
                "`least`, `greatest`, `table`, `nearest_of`, `interval`, `reckon`; found `sum` and "
                "`least`"
            ),
        ),
    ),
    "no way": (
        _x(dimension="length"),
        (
            (
                "60:13: expected one of `sum`, `difference`, `apart`, `product`, `ratio`, `share`, "
                "`least`, `greatest`, `table`, `nearest_of`, `interval`, `reckon`; found none of "
                "them"
            ),
        ),
    ),
    "misspelt way": (
        _x(dimension="length", summ=["line.a"]),
        (
            (
                "63:4: expected one of the keys `formula`, `source`, `choices`, `sum`, "
                "`difference`, `apart`, `product`, `ratio`, …; found the key `summ`; did you mean "
                "`sum`?"
            ),
        ),
    ),
    "circle": (
        {
            "line__x": entry("length", sum=["line.y"]),
            "line__y": entry("length", sum=["line.x", "line.a"]),
        },
        (
            (
                "60:3: expected facts that lead to readings; found a circle: it is computed from "
                "`line.y`; compute one of them from readings alone"
            ),
            (
                "67:3: expected facts that lead to readings; found a circle: it is computed from "
                "`line.x`; compute one of them from readings alone"
            ),
        ),
    ),
    "itself": (
        _x(dimension="length", sum=["line.x", "line.a"]),
        (
            (
                "60:3: expected facts that lead to readings; found a circle: it is computed from "
                "`line.x`; compute one of them from readings alone"
            ),
        ),
    ),
    "name taken": (
        {"line__length": entry("length", sum=["line.a"])},
        (
            (
                "60:3: expected a name that is free; found `line.length`, which is a fact already; "
                "choose another name"
            ),
        ),
    ),
    "name of a computed fact": (
        {"line__included_angle": entry("angle", sum=["1 deg"])},
        (
            (
                "60:3: expected a name that is free; found `line.included_angle`, which is a fact "
                "already; choose another name"
            ),
        ),
    ),
    "name of an own fact": (
        {"line__a": entry("length", sum=["line.b"])},
        (
            (
                "60:3: expected a name that is free; found `line.a`, which is a fact already; "
                "choose another name"
            ),
        ),
    ),
    "product": (
        _x(dimension="length", product=["line.a", "line.b"]),
        ("63:15: expected operands whose product is a length; found length, length",),
    ),
    "ratio": (
        _x(dimension="share", ratio=["line.a", "line.area"]),
        ("63:13: expected operands whose ratio is a share; found length, area",),
    ),
    "share of temperatures": (
        _x(dimension="share", share=["line.hot", "line.cold"]),
        ("63:13: expected operands whose share is a share; found temperature, temperature",),
    ),
    "sum of unlike": (
        _x(dimension="length", sum=["line.a", "line.area"]),
        ("63:11: expected operands whose sum is a length; found length, area",),
    ),
    "sum of temperatures": (
        _x(dimension="temperature", sum=["line.hot", "line.cold"]),
        (
            (
                "63:11: expected operands whose sum is a temperature; found temperature, "
                "temperature; temperatures have no sum, and their difference is a `temperature "
                "difference`"
            ),
        ),
    ),
    "difference called a temperature": (
        _x(dimension="temperature", difference=["line.hot", "line.cold"]),
        (
            (
                "63:18: expected operands whose difference is a temperature; found temperature, "
                "temperature; temperatures have no sum, and their difference is a `temperature "
                "difference`"
            ),
        ),
    ),
    "three for a pair": (
        _x(dimension="length", difference=["line.a", "line.b", "1 in"]),
        ("63:18: expected two facts or figures; found 3",),
    ),
    "each in a pair": (
        _x(dimension="length", difference=["each plane.exposure", "line.b"]),
        (
            (
                "64:5: expected one value: `least`, `greatest`, `mean` or `spread`; found `each "
                "plane.exposure`"
            ),
        ),
    ),
    "any in a sum": (
        _x(dimension="length", sum=["any plane.exposure", "line.b"]),
        (
            (
                "64:5: expected `each`, or one value: `least`, `greatest`, `mean` or `spread`; "
                "found `any plane.exposure`"
            ),
        ),
    ),
    "bare of many": (
        _x(dimension="length", sum=["plane.exposure"]),
        (
            (
                "64:5: expected a word before `plane.exposure`: a line can have several planes; "
                "found none; write one of `each`, `any`, `least`, `greatest`, `mean`, `spread`, "
                "`count`"
            ),
        ),
    ),
    "figure that is none": (
        _x(dimension="area", product=["line.a", "soon"]),
        ("65:5: expected a fact or a figure; found `soon`",),
    ),
    "sum of words": (
        _x(dimension="choice", choices=["a", "b"], sum=["line.mark"]),
        ("61:17: expected a quantity as its dimension; found `choice`",),
    ),
    "interval of words": (
        _x(dimension="choice", choices=["a", "b"], interval={"from": "a", "to": "b"}),
        ("61:17: expected a quantity as its dimension; found `choice`",),
    ),
    "nearest of words": (
        _x(
            dimension="choice",
            choices=["3/4", "1/2", "7/8"],
            nearest_of={"to": "line.mark", "values": ["3/4", "1/2"]},
        ),
        ("68:18: expected quantities; found words, of which none is nearest",),
    ),
    "choice without choices": (
        _x(dimension="choice", table={"by": "line.mark", "rows": [{"for": "3/4", "value": "a"}]}),
        (
            (
                "60:13: expected `choices:` beside `dimension: choice`; found none; list what it "
                "may say"
            ),
        ),
    ),
    "row outside the choices": (
        _x(
            dimension="choice",
            choices=["a", "b"],
            table={"by": "line.mark", "rows": [{"for": "3/4", "value": "c"}]},
        ),
        ("72:16: expected one of `a`, `b`; found `c`",),
    ),
    "rows that overlap": (
        _x(
            dimension="length",
            table={
                "by": "line.a",
                "rows": [
                    {"for": {"at_most": "2 in"}, "value": "1 in"},
                    {"for": {"at_least": "1 in"}, "value": "2 in"},
                ],
            },
        ),
        (
            (
                "72:6: expected rows that don't overlap; found a row that overlaps the one at "
                "book:66:6; end the one before the other begins: some values would pick both"
            ),
        ),
    ),
    "row with a limit": (
        _x(
            dimension="length",
            table={"by": "line.a", "rows": [{"for": "3 in", "value": {"at_least": "1 in"}}]},
        ),
        ("68:16: expected a value, or another fact; found a mapping with the keys `at_least`",),
    ),
    "no dimension": (
        {"line__x": {"measure": "m", "sum": ["line.a"]}},
        ("60:13: expected the key `dimension`; found `line.x` without it",),
    ),
    "unknown dimension": (
        _x(dimension="lenght", sum=["line.a"]),
        (
            (
                "61:17: expected one of `length`, `area`, `slope`, `angle`, `temperature`, "
                "`temperature difference`, `count`, `share`, …; found `lenght`; did you mean "
                "`length`?"
            ),
        ),
    ),
    "fact of a place it cannot see": (
        {"roof__x": entry("length", sum=["line.a"])},
        (
            (
                "64:5: expected a word before `line.a`: a roof can have several lines; found none; "
                "write one of `each`, `any`, `least`, `greatest`, `mean`, `spread`, `count`"
            ),
        ),
    ),
    "two mistakes": (
        _x(
            dimension="length",
            reckon="penetration",
            **{"with": {"pased": "line.b", "fastener length": "line.zz"}},
        ),
        (
            (
                "64:12: expected `passed:` the thickness of each layer it passes above the deck, "
                "one passed twice given twice; found none"
            ),
            "65:5: expected an input of `penetration`; found `pased`; did you mean `passed`?",
            (
                "66:24: expected a fact that the engine or a loaded rulebook declares; found "
                "`line.zz`; did you mean `line.b`?"
            ),
        ),
    ),
}
"""The entries by what is wrong with them; a message begins with its line and column."""


@pytest.mark.parametrize("name", BROKEN)
def test_a_broken_entry_is_told_whole(name: str) -> None:
    """Every mistake of an entry is told with its place, what was expected, found and to do."""
    derive, messages = BROKEN[name]
    told = problems(lambda: plan(book(rule("r", "line.a", "1 in"), **derive)))
    assert tuple(_without_file(str(problem)) for problem in told) == messages


def test_no_broken_entry_is_left_out() -> None:
    """The table above holds every case that is written for it."""
    assert len(BROKEN) == 43


def _without_file(message: str) -> str:
    """Return a message without the name of its file, another one called `book`."""
    _, _, said = message.partition("book-0.json:")
    return re.sub(r"[^ ]*book-0\.json", "book", said)

"""Computed facts of rulebooks: what `derive:` gives, what it lacks, and how it is told."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import pytest

from ridgerule.audit.findings import Outcome
from ridgerule.reports.view import Settings, view_of
from roofs import changed
from test_law import broken_laws, without_each
from workshop import all_listed, audit, only, outcomes, plan, problems, rule, rulebook

if TYPE_CHECKING:
    from ridgerule.audit.findings import Audit, Finding
    from ridgerule.reports.view import View

LINE, PASS, FAIL, OPEN = "hip H1", "pass", "fail", "not verified"


def fact(dimension: str, **more: object) -> dict[str, object]:
    """Return the declaration of a rulebook's own fact."""
    return {"dimension": dimension, "measure": "between two invented marks", **more}


FACTS = {
    "line.a": fact("length", ask="How long is a?", tool="rule"),
    "line.b": fact("length"),
    "line.area": fact("area"),
    "line.pieces": fact("count", least="0"),
    "line.cold": fact("temperature"),
    "line.hot": fact("temperature"),
    "line.warming": fact("temperature difference"),
    "line.mark": fact("choice", choices=["3/4", "1/2", "7/8"]),
    "line.straight": fact("yes or no"),
    "station.depth": fact("length"),
    "station.offset": fact("length"),
}


def entry(dimension: str, **way: object) -> dict[str, object]:
    """Return an entry of `derive:`."""
    return {"dimension": dimension, "measure": "computed from invented marks", **way}


def book(*rules: dict[str, Any], **derive: dict[str, object]) -> str:
    """Return a rulebook with computed facts, `line__x` for `line.x`."""
    named = {name.replace("__", "."): data for name, data in derive.items()}
    return rulebook(*rules, facts=FACTS, derive=named)


def roof(line: dict[str, Any] | None = None, **planes: dict[str, Any]) -> dict[str, Any]:
    """Return a roof of two planes and the hip between them."""
    sides = {"S": {"faces": "180 deg"}, "E": {"faces": "90 deg"}}
    return {
        "complete": all_listed(joints="none"),
        "planes": {id_: {**facts, **planes.get(id_, {})} for id_, facts in sides.items()},
        "lines": {"H1": {"kind": "hip", "between": ["S", "E"], "length": "18 ft", **(line or {})}},
    }


def found(way: dict[str, object], limit: object, data: dict[str, Any]) -> Finding:
    """Return what a rule on one computed fact of the line comes to."""
    return only(audit(data, book(rule("r", "line.x", limit), line__x=way)), "r", LINE)


def viewed(done: Audit, **said: Any) -> View:
    """Return the view of an audit."""
    return view_of(done, settings=Settings(**said))


# values

A_B = {"a": "3/4 in", "b": "1/4 in"}
VALUES = {
    "sum": (entry("length", sum=["line.a", "line.b", "1 in"]), A_B, "2 in"),
    "sum of figures and counts": (entry("count", sum=["count plane.faces", "1"]), {}, "3"),
    "sum of each of none": (entry("length", sum=["line.a", "each joint.overhang"]), A_B, "3/4 in"),
    "difference": (
        entry("length", difference=["line.b", "line.a"]), {"a": "1/4 in", "b": "1 in"}, "3/4 in"
    ),
    "apart": (entry("length", apart=["line.b", "line.a"]), A_B, "1/2 in"),
    "difference of temperatures": (
        entry("temperature difference", difference=["line.hot", "20 degC"]),
        {"hot": "122 degF"},
        "30 degC",
    ),
    "product": (entry("area", product=["line.a", "line.b"]), {"a": "2 ft", "b": "18 in"}, "3 ft2"),
    # 216 in x 50 degC x 10 um/m/degC = 0.108 in, by hand
    "product of three": (
        entry("length", product=["line.length", "line.warming", "10 um/m/degC"]),
        {"warming": "50 degC"},
        "0.108 in",
    ),
    "ratio": (
        entry("length", ratio=["line.area", "line.a"]), {"area": "3 ft2", "a": "2 ft"}, "18 in"
    ),
    "share": (entry("share", share=["line.b", "line.a"]), A_B, "1:3"),
    "least": (entry("length", least=["line.a", "line.b", "1/2 in"]), A_B, "1/4 in"),
    "greatest": (entry("length", greatest=["line.a", "line.b", "1/2 in"]), A_B, "3/4 in"),
    "nearest_of": (
        entry("length", nearest_of={"to": "line.a", "values": ["1/2 in", "1 in"]}),
        {"a": "13/16 in"},
        "1 in",
    ),
    "reckon": (
        entry(
            "length",
            reckon="penetration",
            **{"with": {"fastener length": "line.a", "passed": ["line.b", "1/8 in"]}},
        ),
        {"a": "2 in", "b": "1/4 in"},
        "1 5/8 in",
    ),
    "figure of a choice": (
        entry(
            "angle",
            reckon="included angle",
            **{"with": {"slopes": ["1:1", "1:1"], "faces": "each plane.faces", "kind": "hip"}},
        ),
        {},
        "120 deg",
    ),
}  # fmt: skip


@pytest.mark.parametrize("name", VALUES)
def test_an_operation_gives_exactly_its_value(name: str) -> None:
    """Every operation comes to the figure worked out by hand, and to no other."""
    way, line, value = VALUES[name]
    assert found(way, {"equal_to": value}, roof(line)).outcome is Outcome.PASS
    assert found(way, {"none_of": [value]}, roof(line)).outcome is Outcome.FAIL


NEEDED = " (needed for line.x)"
INPUTS = {
    "sum": (VALUES["sum"], "b"),
    "difference": (VALUES["difference"], "a"),
    "apart": (VALUES["apart"], "b"),
    "product": (VALUES["product"], "b"),
    "ratio": (VALUES["ratio"], "area"),
    "share": (VALUES["share"], "a"),
    "least": (VALUES["least"], "a"),
    "greatest": (VALUES["greatest"], "b"),
    "nearest_of": (VALUES["nearest_of"], "a"),
    "reckon": (VALUES["reckon"], "b"),
}


@pytest.mark.parametrize("name", INPUTS)
def test_a_missing_input_is_named_with_what_it_is_needed_for(name: str) -> None:
    """Without an input there is no value, whatever the limit; the reason names the input."""
    (way, line, value), lost = INPUTS[name]
    for said, why in ((None, "left blank"), ("unknown", "unknown"), ("can't reach", "can't reach")):
        for limit in ({"equal_to": value}, {"none_of": [value]}):
            open_ = found(way, limit, roof({**line, lost: said}))
            assert open_.outcome is Outcome.NOT_VERIFIED
            assert open_.reason == f"line.{lost} at {LINE}: {why}{NEEDED}"
            assert open_.measured == ()


def test_a_computed_fact_of_a_computed_fact_names_the_reading() -> None:
    """What is missing at the bottom of a chain is told, not the computed facts on the way."""
    text = book(
        rule("r", "line.y", {"at_least": "1 in"}),
        line__x=entry("length", sum=["line.a", "line.b"]),
        line__y=entry("length", sum=["line.x", "1 in"]),
    )
    done = audit(roof({"a": "1 in"}), text)
    assert only(done, "r", LINE).reason == f"line.b at {LINE}: not recorded{NEEDED}"
    assert outcomes(audit(roof(A_B), text), "r") == {LINE: PASS}


@pytest.mark.parametrize(
    ("way", "line", "why"),
    [
        (VALUES["share"][0], {"a": "0 in", "b": "1 in"}, "nothing can be divided by 0"),
        (
            entry("length", least=["each joint.overhang"]),
            {},
            "there is nothing to take the least of",
        ),
        (
            entry("length", interval={"from": "line.a", "to": "line.b"}),
            A_B,
            "3/4 in to 1/4 in is no interval: its end lies below its beginning",
        ),
        (
            entry("length", nearest_of={"to": "line.a", "values": ["1/2 in", "1 in"]}),
            {"a": "3/4 in"},
            "1/2 in and 1 in are as near as each other to line.a",
        ),
        (
            entry(
                "length",
                reckon="penetration from protrusion",
                **{"with": {"protrusion": "line.a", "deck": "0 in"}},
            ),
            A_B,
            "a deck's thickness is more than 0",
        ),
    ],
    ids=["by nothing", "of none", "interval reversed", "tie", "reckoning refuses"],
)
def test_what_cannot_be_computed_says_why(way, line, why) -> None:
    """Readings that give no value leave it open, with the reason; nobody gets a traceback."""
    open_ = found(way, {"at_least": "0 %" if "share" in way else "0 in"}, roof(line))
    assert (open_.outcome, open_.reason) == (Outcome.NOT_VERIFIED, why)


def test_a_divisor_that_may_be_nothing_gives_no_value() -> None:
    """An interval that holds 0 divides nothing."""
    text = book(
        rule("r", "line.y", {"at_least": "0 %"}),
        line__x=entry("length", interval={"from": "0 in", "to": "line.a"}),
        line__y=entry("share", share=["line.b", "line.x"]),
    )
    done = only(audit(roof(A_B), text), "r", LINE)
    assert (done.outcome, done.reason) == (
        Outcome.NOT_VERIFIED,
        "what it is divided by may be 0",
    )


# tables


CHART = entry(
    "angle",
    table={
        "by": ["line.kind", "least plane.slope"],
        "rows": [
            {"for": ["hip", {"between": ["4:12", "5:12"]}], "value": "160 deg"},
            {"for": ["hip", {"between": ["6:12", "14:12"]}], "value": "120 deg"},
        ],
    },
)


@pytest.mark.parametrize(
    ("slope", "value"), [("4:12", "160 deg"), ("5:12", "160 deg"), ("6:12", "120 deg")]
)
def test_a_table_gives_the_value_of_the_row(slope: str, value: str) -> None:
    """The ends of a row belong to it."""
    data = roof(None, S={"slope": slope}, E={"slope": "12:12"})
    assert found(CHART, {"equal_to": value}, data).outcome is Outcome.PASS
    assert found(CHART, {"none_of": [value]}, data).outcome is Outcome.FAIL


@pytest.mark.parametrize(
    ("slope", "why"),
    [
        (
            "5.5:12",
            "plane.slope at hip H1: the table has no row for hip, 5.5:12 (needed for line.x)",
        ),
        ("3:12", "plane.slope at hip H1: the table has no row for hip, 3:12 (needed for line.x)"),
        (None, "plane.slope at plane S: left blank (needed for line.x)"),
    ],
)
def test_a_gap_in_a_table_is_unknown_and_named(slope: str | None, why: str) -> None:
    """Between and below the rows the table says nothing, nor for a slope nobody read."""
    data = roof(None, S={"slope": slope}, E={"slope": "12:12"})
    open_ = found(CHART, {"equal_to": "120 deg"}, data)
    assert (open_.outcome, open_.reason) == (Outcome.NOT_VERIFIED, why)


# intervals


def _ends(*figures: str) -> dict[str, object]:
    rows = [
        {"for": mark, "value": figure} for mark, figure in zip(("3/4", "7/8"), figures, strict=True)
    ]
    return {"table": {"by": "line.mark", "rows": rows}}


PANEL = entry(
    "length",
    interval={"from": _ends("23/32 in", "27/32 in"), "to": _ends("25/32 in", "29/32 in")},
)
MAY_BE = "line.x may be 23/32 in to 25/32 in"


@pytest.mark.parametrize(
    ("limit", "outcome", "why"),
    [
        ({"at_least": "23/32 in"}, PASS, ""),
        ({"at_least": "3/4 in"}, OPEN, f"{MAY_BE}, on both sides of the limit; measure it"),
        ({"at_least": "25/32 in"}, OPEN, f"{MAY_BE}, on both sides of the limit; measure it"),
        ({"at_least": "13/16 in"}, FAIL, ""),
        ({"at_most": "25/32 in"}, PASS, ""),
        ({"at_most": "3/4 in"}, OPEN, f"{MAY_BE}, on both sides of the limit; measure it"),
        ({"at_most": "11/16 in"}, FAIL, ""),
        ({"equal_to": "3/4 in"}, OPEN, f"{MAY_BE}, which meets the limit in part; measure it"),
        ({"equal_to": "3/4 in", "within": "1/32 in"}, PASS, ""),
        ({"equal_to": "1 in"}, FAIL, ""),
    ],
)
def test_an_interval_is_judged_at_both_ends(limit, outcome: str, why: str) -> None:
    """A panel's mark decides where both ends of its thickness agree, and nowhere else."""
    judged = found(PANEL, limit, roof({"mark": "3/4"}))
    assert (str(judged.outcome), judged.reason) == (outcome, why)


def test_what_follows_from_an_interval_is_an_interval() -> None:
    """A sum with a panel's thickness is open where the panel leaves it so; its name is told."""
    rules = [
        rule("low", "line.y", {"at_least": "1 7/10 in"}),
        rule("edge", "line.y", {"at_least": "1 3/4 in"}),
        rule("least", "line.z", {"at_least": "1/4 in"}),
    ]
    text = book(
        *rules,
        line__x=PANEL,
        line__y=entry("length", sum=["line.x", "line.a"]),
        line__z=entry("length", least=["line.x", "line.b"]),
    )
    done = audit(roof({"mark": "3/4", "a": "1 in", "b": "3/4 in"}), text)
    assert outcomes(done, "low") == {LINE: PASS}
    assert outcomes(done, "least") == {LINE: PASS}
    told = "line.y may be 1 23/32 in to 1 25/32 in, on both sides of the limit; measure it"
    assert only(done, "edge", LINE).reason == told


def test_an_interval_between_two_values_has_no_nearest() -> None:
    """Where either end lies nearer to another value, the nearest is open and the interval told."""
    text = book(
        rule("r", "line.y", {"equal_to": "1/2 in"}),
        rule("held", "line.a", {"nearest_of": {"to": "line.x", "values": ["1/2 in", "1 in"]}}),
        line__x=PANEL,
        line__y=entry("length", nearest_of={"to": "line.x", "values": ["1/2 in", "1 in"]}),
    )
    done = audit(roof({"mark": "3/4", "a": "1 in"}), text)
    why = f"{MAY_BE}, nearest to 1/2 in or 1 in; measure it"
    assert only(done, "r", LINE).reason == why
    assert only(done, "held", LINE).reason == why


# exactness


def _hip(slope: str) -> dict[str, Any]:
    return roof(None, S={"slope": slope}, E={"slope": slope})


@pytest.mark.parametrize("slope", ["12:12", "45 deg", "100 %"])
def test_a_square_hip_at_twelve_in_twelve_is_exactly_120_degrees(slope: str) -> None:
    """Its included angle equals 120 deg exactly: cos(180 - 120) = 1/2 (solid geometry)."""
    done = audit(_hip(slope), book(rule("r", "line.included_angle", {"equal_to": "120 deg"})))
    assert outcomes(done, "r") == {LINE: PASS}


def test_a_ridge_of_two_slopes_in_degrees_is_exactly_what_they_leave() -> None:
    """180 less two slopes of 30 deg is 120, though their tangents are irrational."""
    data = _hip("30 deg")
    data["planes"]["E"]["faces"] = "0 deg"
    data["lines"] = {"R1": {"kind": "ridge", "between": ["S", "E"]}}
    text = book(
        rule("is", "line.included_angle", {"equal_to": "120 deg"}),
        rule("over", "line.included_angle", {"at_most": "119.999999 deg"}),
    )
    done = audit(data, text)
    assert (outcomes(done, "is"), outcomes(done, "over")) == (
        {"ridge R1": PASS},
        {"ridge R1": FAIL},
    )


def test_what_no_enclosure_can_order_is_too_close_to_compute() -> None:
    """Equal numbers reached in two ways are not told apart, and never called equal or measured."""
    text = book(
        rule("order", "line.x", {"at_least": "line.y"}),
        rule("same", "line.x", {"same_as": "line.y"}),
        rule("near", "line.x", {"same_as": "line.y", "within": "0.001 deg"}),
        line__x=entry("angle", sum=["line.included_angle", "1 deg"]),
        line__y=entry("angle", sum=["1 deg", "line.included_angle"]),
    )
    done = audit(_hip("8:12"), text)
    for id_ in ("order", "same"):
        judged = only(done, id_, LINE)
        assert judged.outcome is Outcome.NOT_VERIFIED
        assert judged.reason == "too close to the limit to compute"
    assert outcomes(done, "near") == {LINE: PASS}


def test_a_tie_that_no_enclosure_can_break_is_too_close_to_compute() -> None:
    """A value that can't be told from the middle of two figures has no nearest, and no tie."""
    text = book(
        rule("r", "line.w", {"equal_to": "4 deg"}),
        line__x=entry("angle", sum=["line.included_angle", "5 deg"]),
        line__y=entry("angle", sum=["5 deg", "line.included_angle"]),
        line__z=entry("angle", difference=["line.x", "line.y"]),
        line__v=entry("angle", sum=["line.z", "5 deg"]),
        line__w=entry("angle", nearest_of={"to": "line.v", "values": ["4 deg", "6 deg"]}),
    )
    judged = only(audit(_hip("8:12"), text), "r", LINE)
    assert judged.outcome is Outcome.NOT_VERIFIED
    assert judged.reason == "which of 4 deg and 6 deg is nearer to line.v is too close to compute"


# agreement of several ways


AGREED = book(
    rule("r", "line.cap_profile", {"agreed_by": ["line.chart", "line.nearest"]}),
    line__chart=CHART,
    line__nearest=entry(
        "angle",
        nearest_of={"to": "line.included_angle", "values": ["160 deg", "120 deg", "90 deg"]},
    ),
)


@pytest.mark.parametrize(
    ("slope", "cap", "outcome", "why"),
    [
        ("7:12", "120 deg", PASS, ""),
        ("7:12", "160 deg", FAIL, ""),
        ("6:12", "120 deg", OPEN, "they disagree: 120 deg by line.chart, 160 deg by line.nearest"),
        ("6:12", "90 deg", OPEN, "they disagree: 120 deg by line.chart, 160 deg by line.nearest"),
        ("15:12", "120 deg", OPEN,
         "plane.slope at hip H1: the table has no row for hip, 15:12 (needed for line.chart)"),
        ("7:12", None, OPEN, "line.cap_profile at hip H1: left blank"),
    ],
)  # fmt: skip
def test_ways_that_agree_decide_and_others_do_not(slope, cap, outcome: str, why: str) -> None:
    """Agreement passes or fails; disagreement and an unknown way leave the value open."""
    data = _hip(slope)
    data["lines"]["H1"]["cap_profile"] = cap
    judged = only(audit(data, AGREED), "r", LINE)
    assert (str(judged.outcome), judged.reason) == (outcome, why)


def test_ways_that_cannot_be_compared_are_not_said_to_disagree() -> None:
    """Where an interval keeps two ways from being compared, that is what is told."""
    text = book(
        rule("r", "line.a", {"agreed_by": ["line.b", "line.x"]}),
        line__x=PANEL,
    )
    judged = only(audit(roof({"a": "3/4 in", "b": "3/4 in", "mark": "3/4"}), text), "r", LINE)
    assert judged.outcome is Outcome.NOT_VERIFIED
    assert judged.reason == f"{MAY_BE}, which meets the limit in part; measure it"


# stations


AT_STATIONS = book(
    rule("r", "station.total", {"at_least": "1 in"}, at="station", on="line"),
    station__total=entry("length", sum=["station.depth", "station.offset"]),
)


def _stations(*stations: dict[str, Any]) -> dict[str, Any]:
    return roof({"stations": list(stations)})


def test_a_station_made_for_every_input_is_asked_the_computed_fact() -> None:
    """`only:` asks for what a computed fact rests on; the computed fact is never listed itself."""
    done = audit(
        _stations(
            {"at": "2 ft", "depth": "1/2 in", "offset": "1/2 in", "only": ["depth", "offset"]},
            {"at": "4 ft", "depth": "1/4 in", "offset": "1/2 in"},
            {"at": "6 ft", "depth": "1/4 in", "only": ["depth"]},
            {"at": "8 ft", "depth": "1/4 in", "only": ["depth", "offset"]},
        ),
        AT_STATIONS,
    )
    assert outcomes(done, "r") == {
        f"{LINE} at 2 ft": PASS,
        f"{LINE} at 4 ft": FAIL,
        f"{LINE} at 8 ft": OPEN,
    }


def test_a_line_without_a_station_for_the_inputs_is_told_them() -> None:
    """Where no station was made for a computed fact, its readings are named, not the fact."""
    done = audit(_stations({"at": "6 ft", "depth": "1/4 in", "only": ["depth"]}), AT_STATIONS)
    judged = only(done, "r", LINE)
    assert judged.outcome is Outcome.NOT_VERIFIED
    assert judged.reason == f"no station on {LINE} has `depth`, `offset` for `total`"
    (view,) = (shown for shown in viewed(done).findings if shown.rule.endswith("#r"))
    told = f"on {LINE}: between two invented marks ({judged.reason})"
    assert view.what_to_do.split("; ") == [
        f"Read depth at more stations {told}",
        f"Read offset at more stations {told}",
    ]


def test_stations_of_lines_are_told_from_those_of_planes_by_what_is_named_bare() -> None:
    """A plane's fact read through a word says nothing of what the station lies on."""
    text = book(
        rule("r", "station.total", {"at_least": "1 in"}),
        station__total=entry("length", sum=["station.gap", "greatest plane.exposure"]),
    )
    data = _stations({"at": "2 ft", "gap": "3 in"})
    data["planes"] = {
        id_: {**side, "exposure": "8 in", "stations": [{"at": "middle", "exposure": "8 in"}]}
        for id_, side in data["planes"].items()
    }
    assert outcomes(audit(data, text), "r") == {f"{LINE} at 2 ft": PASS}


# evidence


def test_a_computed_fact_is_known_no_better_than_the_readings_of_its_place() -> None:
    """A rule's evidence is asked of the readings behind a computed fact at the rule's own place."""
    text = book(
        rule("r", "line.y", {"at_least": "1 in"}, evidence={"how": ["cap lifted"]}),
        line__x=entry("length", sum=["line.a", "line.b", "spread plane.exposure"]),
        line__y=entry("length", sum=["line.x", "1 in"]),
    )
    lifted = {"how": "cap lifted"}
    planes = {id_: {"exposure": "8 in"} for id_ in "SE"}
    shown = roof({"a": {"value": "1 in", **lifted}, "b": {"value": "1 in", **lifted}}, **planes)
    weak = changed(shown, ("lines", "H1", "b"), {"value": "1 in", "how": "seen"})
    assert outcomes(audit(shown, text), "r") == {LINE: PASS}
    judged = only(audit(weak, text), "r", LINE)
    assert judged.outcome is Outcome.NOT_VERIFIED
    assert judged.reason == (
        f"line.b at {LINE}: known only as seen; needs cap lifted (needed for line.x)"
    )


# what a report says


def test_what_to_do_names_the_reading_to_take_and_not_the_computed_fact() -> None:
    """An open computed fact asks for its input: its definition, its tool, its place."""
    text = book(
        rule("r", "line.x", {"at_least": "1 in"}),
        line__x=entry("length", sum=["line.a", "greatest plane.exposure"]),
    )
    done = audit(roof(None, S={"exposure": "8 in"}), text)
    (view,) = (shown for shown in viewed(done).findings if shown.rule.endswith("#r"))
    assert view.what_to_do == (
        "Measure a on hip H1: between two invented marks (rule; not recorded); "
        "Measure exposure on plane E: field slate exposure as laid out, butt to butt up "
        "the slope (tape; not recorded)"
    )
    acts = {group.what_to_do for group in viewed(done).open_groups}
    assert "Measure a: between two invented marks (rule)" in acts


def test_the_trace_carries_the_working_and_the_lines_of_the_record() -> None:
    """Readings with their lines come first, then each number of the working, then the value."""
    text = book(
        rule("r", "line.y", {"at_most": "3 in"}),
        line__x=entry(
            "length",
            reckon="penetration",
            **{"with": {"fastener length": "line.a", "passed": ["line.b"]}},
        ),
        line__y=entry("length", sum=["line.x", "1 in"]),
    )
    data = roof({"a": "2 in", "b": "1/4 in"})
    (view,) = (s for s in viewed(audit(data, text)).findings if s.rule.endswith("#r"))
    assert view.outcome is Outcome.PASS
    traced = [(each.fact, each.text, each.how, bool(each.line)) for each in view.trace]
    assert traced == [
        ("line.a", "2 in", "measured", True),
        ("line.b", "1/4 in", "measured", True),
        ("line.x", "layers in all: sum of the layers above the deck = 1/4 in", "computed", False),
        (
            "line.x",
            "depth: fastener less layers in all, 0 if short of the deck = 1 3/4 in",
            "computed",
            False,
        ),
        ("line.x", "1 3/4 in", "computed", False),
        ("line.y", "2 3/4 in", "computed", False),
    ]
    assert [each.line.rpartition(":")[0] for each in view.trace[:2]] == ["roof.json"] * 2
    assert [each.fact for each in view.readings] == ["line.y"]


# the law


LAWFUL = book(
    rule("chart", "line.cap_profile", {"agreed_by": ["line.chart", "line.nearest"]}),
    rule("panel", "line.x", {"at_least": "1/2 in"}),
    rule("sum", "line.sum", {"at_most": "2 in"}, when={"line.x": {"at_least": "1/2 in"}}),
    rule("least", "line.least", {"at_least": "1/8 in"}),
    rule("greatest", "line.greatest", {"none_of": ["9 in"]}),
    rule("share", "line.share", {"not": {"at_most": "10 %"}}),
    rule("apart", "line.apart", {"at_most": "1 in"}, when={"line.straight": "absent"}),
    rule("station", "station.total", {"at_least": "1/2 in"}, on="line", stations={"at_least": 2}),
    rule("each", "each station.total", {"at_least": "1/2 in"}, at="line"),
    rule("angle", "line.included_angle", {"at_most": "170 deg"}, when={"line.kind": "hip"}),
    line__chart=CHART,
    line__nearest=entry(
        "angle", nearest_of={"to": "line.included_angle", "values": ["160 deg", "120 deg"]}
    ),
    line__x=PANEL,
    line__sum=entry("length", sum=["line.a", "line.b", "least station.total"]),
    line__least=entry("length", least=["line.a", "line.b"]),
    line__greatest=entry("length", greatest=["line.a", "greatest plane.exposure"]),
    line__share=entry("share", share=["line.b", "line.sum"]),
    line__apart=entry("length", apart=["line.a", "line.b"]),
    station__total=entry("length", sum=["station.depth", "station.offset"]),
)
LAWFUL_LINE: dict[str, Any] = {
    "a": "3/4 in",
    "b": "1/4 in",
    "mark": "3/4",
    "straight": "no",
    "cap_profile": "120 deg",
    "stations": [
        {"at": "2 ft", "depth": "1/4 in", "offset": "1/4 in"},
        {"at": "4 ft", "depth": "1/4 in", "offset": "1 in", "only": ["depth", "offset"]},
    ],
}


@pytest.mark.parametrize(
    ("path", "value"),
    [
        ((), None),
        (("lines", "H1", "a"), "9 in"),
        (("lines", "H1", "b"), "1/16 in"),
        (("lines", "H1", "cap_profile"), "160 deg"),
        (("lines", "H1", "straight"), "yes"),
        (("lines", "H1", "stations", 0, "depth"), "1/8 in"),
        (("planes", "S", "slope"), "6:12"),
        (("planes", "E", "faces"), "0 deg"),
    ],
)
def test_no_value_settles_anything_by_its_absence(path, value) -> None:
    """Semantics 11 on computed facts: removing or blanking any value gives no new pass."""
    planes = {id_: {"slope": "7:12", "exposure": "8 in"} for id_ in "SE"}
    data = {"record": 1, "roof": {"id": "T-1"}, **roof(LAWFUL_LINE, **planes)}
    before = audit(data, plan(LAWFUL))
    assert {str(finding.outcome) for finding in before.findings} == {PASS}
    data = changed(data, path, value) if path else data
    tried, broken = broken_laws(data, plan(LAWFUL), without_each(data), checked=True)
    assert tried > 60
    assert broken == []


# files that are wrong


def test_a_computed_fact_cannot_be_recorded() -> None:
    """A record that states a computed fact, of the engine's or of a rulebook, is refused."""
    text = book(
        rule("r", "line.x", {"at_least": "1 in"}),
        line__x=entry("length", sum=["line.a", "line.b"], formula="a and b end to end"),
    )
    told = problems(lambda: audit(roof({"x": "2 in", "included_angle": "120 deg"}), text))
    assert [(p.expected, p.found, p.advice) for p in told] == [
        ("a fact that is recorded", "`x`, which is computed", "a and b end to end"),
        (
            "a fact that is recorded",
            "`included_angle`, which is computed",
            "180 deg less the angle between the planes' normals, at a valley plus that angle",
        ),
    ]

"""What a verdict means, clause by clause: each test names the clause of the semantics it holds."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import pytest

from ridgerule.audit.evaluate import evaluate
from workshop import (
    EVERYTHING,
    all_listed,
    amendment,
    audit,
    findings,
    only,
    open_points,
    outcomes,
    plan,
    problems,
    record,
    rule,
    rulebook,
)

if TYPE_CHECKING:
    from collections.abc import Callable

    from ridgerule.audit.findings import Audit, Finding

PASS, FAIL, OPEN, NA = "pass", "fail", "not verified", "not applicable"
PLANES = {
    "S": {"slope": "7:12", "faces": "180 deg"},
    "E": {"slope": "7:12", "faces": "90 deg"},
}
GAP = rule("gap", "station.gap", {"at_least": "3 in"})
SLOPE = rule("slope", "plane.slope", {"at_least": "2:12"})


def roof(lines: dict[str, Any] | None = None, **sections: Any) -> dict[str, Any]:
    """Return a roof of two planes that lists every kind of place in full."""
    return {"complete": all_listed(), "planes": PLANES, "lines": lines or {}, **sections}


def hip(*stations: dict[str, Any] | None, **facts: object) -> dict[str, Any]:
    """Return the lines of a roof with one hip, its stations 1 ft apart unless they say where."""
    listed = [{"at": f"{i + 1} ft", **(s or {})} for i, s in enumerate(stations)]
    line = {"kind": "hip", "between": ["S", "E"], "stations": listed, **facts}
    return {"H1": {key: value for key, value in line.items() if value != "absent"}}


# 1, how a fact is known

HIDDEN = {"how": ["cap lifted", "photo during work"]}
EVIDENCE: list[tuple[object, object, str, str]] = [
    # evidence asked for, the reading, outcome, what the reason says
    (HIDDEN, {"value": "9 in", "how": "cap lifted"}, PASS, ""),
    (HIDDEN, {"value": "8 in", "how": "photo during work"}, FAIL, ""),
    (HIDDEN, {"value": "9 in", "how": "stated", "by": "the crew"}, OPEN,
     "hidden; lift a cap or show a photo taken during the work"),
    (HIDDEN, {"value": "8 in", "how": "document"}, OPEN, "lift a cap"),
    (HIDDEN, {"value": "9 in"}, OPEN, "how it is known is not stated"),
    (HIDDEN, "9 in", OPEN, "known only as measured"),  # a bare length is a measured one
    (HIDDEN, None, OPEN, "left blank"),
    ({"how": ["measured", "document"]}, {"value": "9 in", "how": "stated", "by": "the crew"}, OPEN,
     "needs measured or document"),
    ({"how": ["measured"]}, "9 in", PASS, ""),
    ({"photo": True}, {"value": "9 in", "photo": "h1.jpg"}, PASS, ""),
    ({"photo": True}, {"value": "9 in", "photo": ["a.jpg", {"file": "b.jpg"}]}, PASS, ""),
    ({"photo": True}, "9 in", OPEN, "a photo is missing"),
    ({"photo": True}, {"value": "8 in", "photo": []}, OPEN, "a photo is missing"),
    (None, {"value": "9 in", "how": "stated", "by": "the crew"}, PASS, ""),
    (None, {"value": "9 in"}, PASS, ""),
]  # fmt: skip


def test_evidence_table_is_whole() -> None:
    """Clause 1: the table of evidence holds each answer and has not shrunk."""
    assert len(EVIDENCE) == 15
    assert {row[2] for row in EVIDENCE} == {PASS, FAIL, OPEN}


@pytest.mark.parametrize(("evidence", "reading", "expected", "told"), EVIDENCE)
def test_evidence(evidence: object, reading: object, expected: str, told: str) -> None:
    """Clause 1: a reading known more weakly than the rule accepts shows nothing, good or bad."""
    fields = {"evidence": evidence} if evidence else {}
    book = rulebook(rule("strip", "line.membrane_width", {"at_least": "9 in"}, **fields))
    found = only(audit(roof(hip(membrane_width=reading)), book), "strip", "hip H1")
    assert str(found.outcome) == expected
    assert told in found.reason
    assert bool(found.measured) == (expected != OPEN)


def test_photo_of_the_place_counts() -> None:
    """Clause 1: a photo of the station shows its readings too."""
    book = rulebook(rule("gap", "station.gap", {"at_least": "3 in"}, evidence={"photo": True}))
    done = audit(roof(hip({"gap": "3 in", "photo": "h1.jpg"}, {"gap": "3 in"})), book)
    assert outcomes(done, "gap") == {"hip H1 at 1 ft": PASS, "hip H1 at 2 ft": OPEN}


def test_evidence_is_asked_of_the_judged_fact_alone() -> None:
    """Clause 1: a condition may rest on weaker evidence than the judged fact."""
    fields: dict[str, Any] = {"evidence": HIDDEN, "when": {"line.membrane": True}}
    book = rulebook(rule("strip", "line.membrane_width", {"at_least": "9 in"}, **fields))
    facts = {"membrane": {"value": True, "how": "stated", "by": "the crew"}}
    known = {"value": "9 in", "how": "cap lifted"}
    done = audit(roof(hip(**facts, membrane_width=known)), book)
    assert outcomes(done, "strip") == {"hip H1": PASS}


# 2, per side

SETBACK = rule("setback", "each station.setback", {"at_least": "2 in"}, at="station")
SIDES: list[tuple[object, str, tuple[str, ...]]] = [
    ({"S": "2 in", "E": "2 1/4 in"}, PASS, ()),
    ({"S": "2 in", "E": "1 in"}, FAIL, ()),
    ({"S": "2 in"}, OPEN, ("E",)),
    ({"S": "2 in", "E": "unknown"}, OPEN, ("E",)),
    ({"S": "1 in", "E": None}, FAIL, ()),
    ({}, OPEN, ("S", "E")),
    (None, OPEN, ("S", "E")),
    ("can't reach", OPEN, ("S", "E")),
]


def test_sides_have_each_answer() -> None:
    """Clause 2: the table of sides has not shrunk."""
    assert len(SIDES) == 8
    assert {row[1] for row in SIDES} == {PASS, FAIL, OPEN}


@pytest.mark.parametrize(("setback", "expected", "lacking"), SIDES)
def test_per_side(setback: object, expected: str, lacking: tuple[str, ...]) -> None:
    """Clause 2: a fact of each side is judged on both, and a missing side is named."""
    done = audit(roof(hip({"setback": setback})), rulebook(SETBACK))
    found = only(done, "setback", "hip H1 at 1 ft")
    assert str(found.outcome) == expected
    assert tuple(lack.side for lack in found.missing) == lacking


@pytest.mark.parametrize("between", [None, "unknown", "", [], "absent"])
def test_sides_of_a_line_between_unknown_planes(between: object) -> None:
    """Clause 2: where the planes are not known, neither are the sides, but it is no mistake."""
    lines = hip({"setback": {"S": "2 in", "E": "2 in"}}, between=between)
    done = audit(roof(lines), rulebook(SETBACK))
    assert outcomes(done, "setback") == {"hip H1 at 1 ft": OPEN}


def test_side_that_is_no_neighbour_is_refused() -> None:
    """Clause 2: a side keyed by a plane the line does not touch is a problem of the file."""
    lines = hip({"setback": {"S": "2 in", "N": "2 in"}})
    (problem,) = problems(lambda: audit(roof(lines), rulebook(SETBACK)))
    assert "`N`" in problem.found


@pytest.mark.parametrize(
    ("kind", "between"), [("eave", ["S", "E"]), ("rake", ["S", "E"]), ("hip", ["S", "E", "N"])]
)
def test_line_beside_too_many_planes_is_refused(kind: str, between: list[str]) -> None:
    """Clause 8: a line has up to two planes, an eave or rake one; more would hide one of them."""
    data = roof(hip(kind=kind, between=between), planes={**PLANES, "N": {}})
    (problem,) = problems(lambda: audit(data, rulebook(SLOPE)))
    assert problem.expected.startswith("at most")


# 3, elements

ELEMENTS: list[tuple[str, str, dict[str, Any], str]] = [
    # the judged fact, section, the one place in it, its label
    ("joint.trimmed", "joints", {"lines": ["H1"]}, "joint X"),
    ("opening.flashed", "openings", {"plane": "S"}, "opening X"),
    ("wall.flashed", "walls", {"plane": "S"}, "wall X"),
    ("plane.fasteners_hidden", "planes", {"faces": "0 deg"}, "plane X"),
    ("line.flashed", "lines", {"kind": "valley", "between": ["S", "E"]}, "valley X"),
]


@pytest.mark.parametrize("element", ELEMENTS)
@pytest.mark.parametrize(
    ("value", "expected"), [(True, PASS), (False, FAIL), (None, OPEN), ("absent", OPEN)]
)
def test_elements_are_judged_each_at_itself(
    element: tuple[str, str, dict[str, Any], str], value: object, expected: str
) -> None:
    """Clause 3: every sort of element has findings of its own, missing facts not verified."""
    of, section, place, label = element
    facts = {} if value == "absent" else {of.partition(".")[2]: value}
    data = roof(hip())
    data[section] = {**data.get(section, {}), "X": {**place, **facts}}
    assert str(only(audit(data, rulebook(rule("r", of, True))), "r", label).outcome) == expected


def test_attic_delivery_and_sample_are_judged() -> None:
    """Clause 3: attics, deliveries and samples hold quantities and dates of their own."""
    book = rulebook(
        rule("air", "attic.air_space", {"at_least": "1 in"}),
        rule("note", "delivery.date", {"at_most": "roof.installation_date"}),
        rule("nails", "sample.faulty", {"at_most": 1}),
    )
    data = roof(
        dates={"installation": "2026-07-20"},
        attics={"A": {"air_space": "25.4 mm"}},
        deliveries={"D": {"date": "2026-07-21"}},
        samples={"N": {"of": "nails", "lot": 90, "inspected": 13, "faulty": 1}},
    )
    done = audit(data, book)
    assert outcomes(done, "air") == {"attic A": PASS}
    assert outcomes(done, "note") == {"delivery D": FAIL}
    assert outcomes(done, "nails") == {"sample N": PASS}


SEEN: list[tuple[str, str, dict[str, Any], str, str]] = [
    # what is asked, where, the roof, place, outcome
    ("plane.slope", "opening", {"openings": {"O": {"plane": "S"}}}, "opening O", PASS),
    ("plane.slope", "opening", {"openings": {"O": {}}}, "opening O", OPEN),
    ("plane.slope", "wall", {"walls": {"W": {"plane": "E"}}}, "wall W", PASS),
    ("plane.slope", "sample", {"samples": {"N": {"plane": "S"}}}, "sample N", PASS),
    ("each plane.slope", "line", {}, "hip H1", PASS),
    ("each plane.slope", "joint", {"joints": {"J": {"lines": ["H1"]}}}, "joint J", PASS),
    ("each plane.slope", "joint", {"joints": {"J": {"lines": "unknown"}}}, "joint J", OPEN),
    ("each plane.slope", "attic", {"attics": {"A": {"planes": ["S", "E"]}}}, "attic A", PASS),
    ("each plane.slope", "attic", {"attics": {"A": {}}}, "attic A", OPEN),
    ("each plane.slope", "roof", {}, "roof", PASS),
    ("each plane.slope", "roof", {"complete": {}}, "roof", OPEN),
]


def test_views_are_many() -> None:
    """Clause 3: the table of what elements see has not shrunk."""
    assert (len(ELEMENTS), len(SEEN)) == (5, 11)


@pytest.mark.parametrize(("of", "at", "sections", "label", "expected"), SEEN)
def test_elements_see_each_other(
    of: str, at: str, sections: dict[str, Any], label: str, expected: str
) -> None:
    """Clause 3: a place sees what it names; what it does not name is not known."""
    done = audit(roof(hip(), **sections), rulebook(rule("r", of, {"at_least": "2:12"}, at=at)))
    assert str(only(done, "r", label).outcome) == expected


# 4, unknown

UNKNOWN: list[tuple[object, str]] = [
    ("absent", "not recorded"),
    (None, "left blank"),
    ("", "left blank"),
    ("  ", "left blank"),
    ("unknown", "unknown"),
    ("Unknown", "unknown"),
    ("can't reach", "can't reach"),
    ("can\N{RIGHT SINGLE QUOTATION MARK}t reach", "can't reach"),
    ("cannot reach", "can't reach"),
    ({"how": "seen"}, "not recorded"),
    ({"value": None}, "left blank"),
    ({"value": "can't reach", "note": "too steep"}, "can't reach"),
]


def test_unknowns_are_many() -> None:
    """Clause 4: the table of ways not to know has not shrunk."""
    assert len(UNKNOWN) == 12


@pytest.mark.parametrize(("raw", "reason"), UNKNOWN)
def test_unknown_has_its_reason(raw: object, reason: str) -> None:
    """Clause 4: missing, blank, `unknown` and `can't reach` are unknown, each with its reason."""
    book = rulebook(
        rule("flag", "line.membrane", "present"),
        rule("figure", "line.membrane_width", {"at_least": "0 in"}),
        rule("word", "line.membrane_standard", {"none_of": ["none"]}),
    )
    done = audit(roof(hip(membrane=raw, membrane_width=raw, membrane_standard=raw)), book)
    for id_ in ("flag", "figure", "word"):
        found = only(done, id_, "hip H1")
        assert found.outcome == OPEN
        assert [lack.reason for lack in found.missing] == [reason]
        assert found.reason.endswith(f"at hip H1: {reason}")


@pytest.mark.parametrize("raw", ["absent", None, "", " ", "unknown", "Unknown", "Can't reach"])
def test_unknown_words_are_no_text(raw: object) -> None:
    """Clause 4: what is no value is none where a fact may be any text, as the roof's place may."""
    facts = {} if raw == "absent" else {"place": raw}
    book = rulebook(rule("r", "plane.slope", {"at_least": "2:12"}, when={"roof.place": "Tarn"}))
    done = audit(roof(roof={"id": "T-1", **facts}), book)
    assert outcomes(done, "r") == {"plane S": OPEN, "plane E": OPEN}


# 5, the vocabulary


def test_vocabulary_is_the_rulebooks_too() -> None:
    """Clause 5: a record may state what its rulebooks declare, and nothing that no one declares."""
    facts = {"line.lining_width": {"dimension": "length", "measure": "edge to edge"}}
    own = rulebook(rule("r", "line.lining_width", {"at_least": "9 in"}), facts=facts)
    data = roof(hip(lining_width="9 in"))
    assert outcomes(audit(data, own), "r") == {"hip H1": PASS}
    (problem,) = problems(lambda: audit(data, rulebook(SLOPE)))
    assert "`lining_width`" in problem.found
    assert str(audit(roof(hip(fasteners_hidden=True)), rulebook(SLOPE)).outcome) == PASS


def test_rule_of_several_rulebooks_shares_the_vocabulary() -> None:
    """Clause 5: a fact of one rulebook may stand in a record read with another beside it."""
    facts = {"line.lining_width": {"dimension": "length", "measure": "edge to edge"}}
    one = rulebook(SLOPE, name="t/a@1", facts=facts)
    two = rulebook(SLOPE, name="t/b@1")
    done = audit(roof(hip(lining_width="9 in")), one, two, asked=("t/b@1", "t/a@1"))
    assert str(done.outcome) == PASS


# 6, text by the fact's type


@pytest.mark.parametrize("written", ["905.10", "2026", "0123", "on", "7:12", "1e3"])
def test_text_stays_text(written: str) -> None:
    """Clause 6: text is read by the fact's type, whatever YAML would make of it."""
    book = rulebook(rule("r", "roof.place", {"equal_to": written}))
    text = f"record: 1\nroof:\n  id: T-1\n  place: {written}\n"
    found = only(audit(text, book), "r", "roof")
    assert (str(found.outcome), found.measured[0].text) == (PASS, written)


# 7, three-valued logic

LOGIC: list[tuple[object, object, object, str]] = [
    # vented (asked no), gap (asked 3 in), outcome
    (False, "3 in", None, PASS),
    (False, "2 in", None, FAIL),
    (False, None, "station.gap", OPEN),
    (True, "2 in", None, NA),
    (True, None, None, NA),
    (None, "3 in", "line.vented", OPEN),
    (None, "2 in", "line.vented", OPEN),
    ("can't reach", None, "line.vented", OPEN),
]


@pytest.mark.parametrize(("vented", "gap", "lacking", "expected"), LOGIC)
def test_when_comes_before_the_limit(
    vented: object, gap: object, lacking: str | None, expected: str
) -> None:
    """Clause 7: false is not applicable; unknown is not verified, whatever the limit says."""
    book = rulebook({**GAP, "when": {"line.vented": False}})
    found = findings(audit(roof(hip({"gap": gap}, vented=vented)), book), "gap")
    assert [str(finding.outcome) for finding in found] == [expected]
    named = [lack.fact.full_name for lack in found[0].missing if lack.fact]
    assert named == ([lacking] if lacking else [])


# 8, one over many at a line


def test_each_plane_at_a_line() -> None:
    """Clause 8: a line asks each of its planes; one that is not recorded leaves it open."""
    book = rulebook(rule("r", "each plane.slope", {"at_least": "3:12"}, at="line"))
    steep = {**PLANES, "E": {"slope": "2:12", "faces": "90 deg"}}
    blank = {**PLANES, "E": {"faces": "90 deg"}}
    assert outcomes(audit(roof(hip()), book), "r") == {"hip H1": PASS}
    assert outcomes(audit(roof(hip(), planes=steep), book), "r") == {"hip H1": FAIL}
    assert outcomes(audit(roof(hip(), planes=blank), book), "r") == {"hip H1": OPEN}
    assert outcomes(audit(roof(hip(between=["S"])), book), "r") == {"hip H1": OPEN}
    eave = hip(kind="eave", between=["S"])
    assert outcomes(audit(roof(eave), book), "r") == {"eave H1": PASS}


def test_all_stations_of_a_roof() -> None:
    """Clause 8: all stations of a roof lack some where a line that can have them has none."""
    book = rulebook(rule("r", "least station.gap", {"at_least": "3 in"}, at="roof"))
    field = {**PLANES, "S": {**PLANES["S"], "stations": [{"at": "middle", "exposure": "8 in"}]}}
    ridge = {"kind": "ridge", "between": ["S", "E"]}

    def outcome(stations: object) -> str:
        lines = {**hip({"gap": "3 in"}), "R1": {**ridge, "stations": stations}}
        return outcomes(audit(roof(lines, planes=field), book), "r")["roof"]

    assert outcome([{"at": "1 ft", "gap": "3 in"}]) == PASS
    assert outcome([{"at": "1 ft", "gap": "1 in"}]) == FAIL
    assert [outcome(stations) for stations in ([None], [], None)] == [OPEN, OPEN, OPEN]


# 9, aims


@pytest.mark.parametrize(
    ("reading", "expected", "remark"),
    [
        ("3 in", PASS, "aim: at least 4 in"),
        ("4 in", PASS, ""),
        ("2 in", FAIL, ""),
        (None, OPEN, ""),
    ],
)
def test_aim_never_decides(reading: str | None, expected: str, remark: str) -> None:
    """Clause 9: an aim that is missed is a remark beside the pass, never a failure."""
    book = rulebook({**GAP, "aim": {"at_least": "4 in"}})
    done = audit(roof(hip({"gap": reading})), book)
    found = only(done, "gap", "hip H1 at 1 ft")
    assert (str(found.outcome), found.remark, str(done.outcome)) == (expected, remark, expected)


# 10, no finding is no pass


@pytest.mark.parametrize("stations", ["absent", None, []])
def test_line_without_stations_is_one_open_finding(stations: object) -> None:
    """Clause 10: a rule on stations gives one not-verified finding at a line that has none."""
    done = audit(roof(hip(stations=stations)), rulebook(GAP))
    assert outcomes(done, "gap") == {"hip H1": OPEN}
    found = only(done, "gap", "hip H1")
    assert (str(found.outcome), found.missing[0].reason) == (OPEN, "no station recorded")
    assert str(done.outcome) == OPEN


def test_station_is_asked_every_rule_unless_it_says_only() -> None:
    """Clause 10: a station without `only` owes every rule on stations a reading; with it, those."""
    book = rulebook(GAP, rule("caps", "station.cap_fasteners", {"at_least": 2}))
    stations = (
        {"gap": "3 in"},
        {"gap": "3 in", "only": ["gap"]},
        {"cap_fasteners": 2, "only": ["cap_fasteners"]},
        {"gap": "3 in", "only": None},
    )
    done = audit(roof(hip(*stations)), book)
    gaps, caps = outcomes(done, "gap"), outcomes(done, "caps")
    assert gaps == {"hip H1 at 1 ft": PASS, "hip H1 at 2 ft": PASS, "hip H1 at 4 ft": PASS}
    assert caps == {"hip H1 at 1 ft": OPEN, "hip H1 at 3 ft": PASS, "hip H1 at 4 ft": OPEN}


def test_stations_made_for_other_facts_are_none() -> None:
    """Clause 10: where every station was made for other facts, the line is not verified."""
    done = audit(roof(hip({"only": ["cap_exposure"]}, {"only": []})), rulebook(GAP))
    assert outcomes(done, "gap") == {"hip H1": OPEN}


def test_only_hides_no_reading() -> None:
    """Clause 10: a reading beside an `only` that leaves it out is refused, never hidden."""
    lines = hip({"gap": "3 in"}, {"gap": "1 in", "only": ["cap_exposure"]})
    (problem,) = problems(lambda: audit(roof(lines), rulebook(GAP)))
    assert "`gap`" in problem.expected
    lines = hip({"gap": "3 in"}, {"gap": "1 in", "only": ["gap"]})
    assert str(audit(roof(lines), rulebook(GAP)).outcome) == FAIL


COVERAGE: list[tuple[dict[str, Any], object, list[str | None], int | None]] = [
    # stations asked for, length, where the readings were taken, how many were needed if too few
    ({"at_least": 2}, "18 ft", ["1 ft"], 2),
    ({"at_least": 2}, "18 ft", ["1 ft", "2 ft"], None),
    ({"one_per": "6 ft"}, "18 ft", ["1 ft", "7 ft"], 3),
    ({"one_per": "6 ft"}, "18 ft", ["1 ft", "7 ft", "13 ft"], None),
    ({"one_per": "6 ft"}, "18 ft 1/64 in", ["1 ft", "7 ft", "13 ft"], 4),
    ({"at_least": 3, "one_per": "6 ft"}, "6 ft", ["1 ft", "2 ft"], 3),
    # One place counts once, however it is written; a place that is not known counts nothing.
    ({"at_least": 2}, "18 ft", ["2 ft", "24 in"], 2),
    ({"at_least": 2}, "18 ft", ["2 ft", "609.6 mm"], 2),
    ({"at_least": 2}, "18 ft", ["2 ft", None], 2),
    ({"at_least": 2}, "18 ft", ["2 ft", "unknown"], 2),
    ({"at_least": 2}, "18 ft", ["Unknown", ""], 2),
]


def test_coverages_are_many() -> None:
    """Clause 10: the table of coverages has not shrunk."""
    assert len(COVERAGE) == 11


@pytest.mark.parametrize(("asked", "length", "places", "needed"), COVERAGE)
def test_coverage_by_stations(
    asked: dict[str, Any], length: object, places: list[str | None], needed: int | None
) -> None:
    """Clauses 10 and 11: too few places read is not verified at the line, and one counts once."""
    stations = [{"at": at, "gap": "3 in"} for at in places]
    done = audit(roof(hip(*stations, length=length)), rulebook({**GAP, "stations": asked}))
    at_line = [found for found in findings(done, "gap") if found.place.label == "hip H1"]
    assert len(at_line) == (needed is not None)
    if needed is not None:
        assert f"of {needed} stations read" in at_line[0].reason
    assert str(done.outcome) == (PASS if needed is None else OPEN)


@pytest.mark.parametrize("length", [None, "unknown", "absent"])
def test_coverage_of_an_unknown_length(length: object) -> None:
    """Clause 11: how many stations a line of unknown length needs is not known."""
    book = rulebook({**GAP, "stations": {"one_per": "6 ft"}})
    done = audit(roof(hip(*[{"gap": "3 in"}] * 9, length=length)), book)
    assert str(only(done, "gap", "hip H1").outcome) == OPEN


def test_unread_stations_cover_nothing() -> None:
    """Clause 10: a station whose reading is missing or too weak does not count as read."""
    fields: dict[str, Any] = {"stations": {"at_least": 3}, "evidence": {"how": ["measured"]}}
    stated = {"value": "3 in", "how": "stated", "by": "the crew"}
    done = audit(roof(hip({"gap": "3 in"}, {}, {"gap": stated})), rulebook({**GAP, **fields}))
    assert "1 of 3 stations" in only(done, "gap", "hip H1").reason


def test_coverage_of_a_plane_goes_by_its_area() -> None:
    """Clause 10: stations on planes are asked for by area; words that differ are two places."""
    exposure = rule("exposure", "station.exposure", {"at_most": "8 in"})
    book = rulebook({**exposure, "stations": {"one_per": "100 ft2"}})

    def plane(*places: str) -> dict[str, Any]:
        stations = [{"at": at, "exposure": "8 in"} for at in places]
        return {"planes": {"S": {"area": "150 ft2", "faces": "0 deg", "stations": stations}}}

    enough = audit({**roof(), **plane("third course", "eighth course")}, book)
    assert str(enough.outcome) == PASS
    once = audit({**roof(), **plane("third course", " Third  course ")}, book)
    assert "1 of 2 stations" in only(once, "exposure", "plane S").reason


# 10, completeness

HIPS = {**GAP, "when": {"line.kind": "hip"}}
ON_EVERYTHING = [
    ("planes", SLOPE, "planes", {"X": {"slope": "3:12", "faces": "0 deg"}}),
    ("openings", rule("r", "opening.flashed", True), "openings", {"X": {"flashed": True}}),
    ("walls", rule("r", "wall.flashed", True), "walls", {"X": {"flashed": True}}),
    ("joints", rule("r", "joint.trimmed", True), "joints", {"X": {"trimmed": True}}),
    ("attics", rule("r", "attic.air_space", {"at_least": "1 in"}), "attics",
     {"X": {"air_space": "1 in"}}),
    ("deliveries", rule("r", "delivery.caps", {"at_least": 1}), "deliveries", {"X": {"caps": 9}}),
    ("samples", rule("r", "sample.faulty", {"at_most": 1}), "samples", {"X": {"faulty": 0}}),
    *(
        (f"{kind}s", rule("r", "line.flashed", True, when={"line.kind": kind}), "lines",
         {"X": {"kind": kind, "flashed": True}})
        for kind in ("hip", "ridge", "valley", "eave", "rake")
    ),
]  # fmt: skip


def test_every_kind_of_place_can_be_complete() -> None:
    """Clause 10: the table holds every kind of place that a record can list in full."""
    assert {key for key, *_ in ON_EVERYTHING} == set(EVERYTHING)


@pytest.mark.parametrize(("key", "asked", "section", "listed"), ON_EVERYTHING)
def test_completeness(key: str, asked: dict[str, Any], section: str, listed: Any) -> None:
    """Clause 10: `none` is not applicable; unstated is open, listed or not; `all` is the whole."""
    book = rulebook(asked)
    every, unsaid = all_listed(), {k: v for k, v in all_listed().items() if k != key}

    def outcome(complete: dict[str, str], places: object) -> str:
        return str(audit({"complete": complete, section: places}, book).outcome)

    none = audit({"complete": {**every, key: "none"}}, book)
    assert outcomes(none, asked["id"]) == {"roof": NA}
    assert str(none.outcome) == OPEN  # nothing was found at all
    assert outcome(every, listed) == PASS
    assert outcome(unsaid, listed) == OPEN
    assert outcome({**unsaid, key: "unknown"}, listed) == OPEN
    unlisted = audit({"complete": unsaid}, book)
    assert outcomes(unlisted, asked["id"]) == {"roof": OPEN}


def test_none_beside_one_listed_is_refused() -> None:
    """Clause 10: a record can't state that there is no hip and list one."""
    data = {**roof(hip({"gap": "3 in"})), "complete": all_listed(hips="none")}
    (problem,) = problems(lambda: audit(data, rulebook(HIPS)))
    assert "`none`" in problem.found


def test_stations_on_lines_or_planes_ask_for_both() -> None:
    """Clause 10: a rule on stations of any host is open while a line or plane may be unlisted."""
    stations = [{"at": "middle", "fasteners": 2}]
    data = {"planes": {"S": {"stations": stations}}}
    book = rulebook(rule("two", "station.fasteners", {"at_least": 2}))
    assert str(audit({**data, "complete": all_listed()}, book).outcome) == PASS
    line = {"lines": {"L": {"stations": [{"at": "1 ft", "fasteners": 2}]}}}  # of unknown kind
    unlisted = {k: v for k, v in all_listed().items() if k != "planes"}
    assert str(audit({**line, "complete": unlisted}, book).outcome) == OPEN
    assert str(audit({**line, "complete": all_listed()}, book).outcome) == PASS
    for key in ("planes", "hips", "eaves"):
        complete = {k: v for k, v in all_listed().items() if k != key}
        assert str(audit({**data, "complete": complete}, book).outcome) == OPEN, key


NEIGHBOURS: list[tuple[dict[str, str | None], dict[str, list[str]], list[list[str]], int]] = [
    # the planes' directions, lines between, planes stated apart, how many open points
    ({"S": "180 deg", "E": "90 deg"}, {}, [], 1),
    ({"S": "180 deg", "E": "90 deg"}, {"hip": ["S", "E"]}, [], 0),
    ({"S": "180 deg", "E": "90 deg"}, {}, [["E", "S"]], 0),
    ({"S": "180 deg", "E": None}, {"hip": ["S", "E"]}, [], 1),
    ({"S": "180 deg", "E": "90 deg", "N": "0 deg"}, {"hip": ["S", "E"]}, [], 2),
    ({"S": "180 deg", "E": "90 deg", "N": "360 deg"}, {"hip": ["S", "E"], "ridge": ["S", "N"]},
     [["E", "N"]], 0),
    ({"S": "180 deg", "N": "0 deg"}, {"ridge": ["S", "N"]}, [], 0),
    ({"S": "180 deg", "T": "180 deg"}, {}, [], 0),  # both face the same way: neither goes round
    ({"S": "180 deg"}, {}, [], 0),
]  # fmt: skip


def test_neighbours_are_many() -> None:
    """Clause 10: the table of neighbouring planes has not shrunk."""
    assert len(NEIGHBOURS) == 9


@pytest.mark.parametrize(("planes", "lines", "apart", "points"), NEIGHBOURS)
def test_neighbouring_planes_with_no_line(
    planes: dict[str, str | None],
    lines: dict[str, list[str]],
    apart: list[list[str]],
    points: int,
) -> None:
    """Clause 10: planes that follow each other round the roof meet in a line or are said not to."""
    data = {
        "complete": {**all_listed(), "apart": apart},
        "planes": {id_: {"faces": faces} for id_, faces in planes.items()},
        "lines": {kind: {"kind": kind, "between": pair} for kind, pair in lines.items()},
    }
    assert len(open_points(audit(data, rulebook(HIPS)))) == points
    assert open_points(audit(data, rulebook(SLOPE))) == []  # no rule asks for lines


def test_line_of_unknown_kind_joins_nothing() -> None:
    """Clauses 10 and 11: a line that may be an eave leaves it open what joins two planes."""
    asked = {**GAP, "when": {"line.kind": "hip", "line.vented": False}}
    line = {"between": ["S", "E"], "vented": True}
    for kind, points in (("hip", []), (None, ["line L"])):
        done = audit(roof({"L": {"kind": kind, **line}}), rulebook(asked, SLOPE))
        told = open_points(done)
        assert [label for label in points if label in told[0]] == points
        assert (len(told), str(done.outcome)) == ((1, OPEN) if points else (0, PASS))


# 11, no value is worth leaving out

Leaving = tuple[dict[str, Any], str, tuple[str | int, ...]]
"""A record, a rulebook, and the way to the value that is left out."""


def new_ground(before: Audit, after: Audit) -> list[tuple[str, str, str]]:
    """Return where a pass or not-applicable stands that did not stand before."""

    def stood(done: Audit) -> set[tuple[str, str, str]]:
        return {
            (found.rule.full_id, found.place.id or "roof", str(found.outcome))
            for found in done.findings
            if found.rule and str(found.outcome) in (PASS, NA)
        }

    return sorted(stood(after) - stood(before))


def blanked(data: Any, path: tuple[str | int, ...], instead: object) -> Any:
    """Return record data with one value blanked, or taken out where `instead` is `absent`."""
    step, *rest = path
    copy = dict(data) if isinstance(data, dict) else list(data)
    if rest:
        copy[step] = blanked(data[step], tuple(rest), instead)
    elif instead == "absent":
        del copy[step]
    else:
        copy[step] = instead
    return copy


def hidden_kind() -> Leaving:
    """Return a vented hip among hips that may be unlisted: its kind is what keeps that open."""
    complete = {key: said for key, said in all_listed().items() if key != "hips"}
    asked = {**GAP, "when": {"line.kind": "hip", "line.vented": False}}
    data = {**roof(hip(vented=True)), "complete": complete}
    return data, rulebook(SLOPE, asked), ("lines", "H1", "kind")


def place_of_an_opening() -> Leaving:
    """Return an opening that fails at the plane it is said to lie in."""
    book = rulebook(SLOPE, rule("r", "each opening.flashed", True, at="plane"))
    return roof(openings={"O": {"plane": "S", "flashed": False}}), book, ("openings", "O", "plane")


def planes_of_a_line() -> Leaving:
    """Return a hip that fails at both of its planes."""
    book = rulebook(SLOPE, rule("r", "each line.flashed", True, at="plane"))
    return roof(hip(flashed=False)), book, ("lines", "H1", "between")


def one_plane_of_a_line() -> Leaving:
    """Return the same hip, for one of its planes to be left out."""
    data, book, path = planes_of_a_line()
    return data, book, (*path, 1)


def text_in_a_condition() -> Leaving:
    """Return a slope that fails where the roof stands in one place alone."""
    asked = rule("r", "plane.slope", {"at_least": "12:12"}, when={"roof.place": "Tarn"})
    return roof(roof={"id": "T", "place": "Tarn"}), rulebook(SLOPE, asked), ("roof", "place")


def row_of_a_table() -> Leaving:
    """Return a strip too narrow for the row that the flatter of two planes picks."""
    table = {
        "by": "least plane.slope",
        "rows": [
            {"for": {"at_most": "4:12"}, "limit": {"at_least": "18 in"}},
            {"for": {"at_least": "5:12"}, "limit": {"at_least": "9 in"}},
        ],
    }
    book = rulebook(rule("r", "line.membrane_width", {"table": table}))
    planes = {**PLANES, "S": {"slope": "3:12", "faces": "180 deg"}}
    return roof(hip(membrane_width="12 in"), planes=planes), book, ("planes", "S", "slope")


def stations_of_a_line() -> Leaving:
    """Return a ridge whose stations fail a rule on all stations of the roof."""
    book = rulebook(SLOPE, rule("r", "least station.gap", {"at_least": "3 in"}, at="roof"))
    ridge = {"kind": "ridge", "between": ["S", "E"], "stations": [{"at": "1 ft", "gap": "1 in"}]}
    return roof({**hip({"gap": "3 in"}), "R": ridge}), book, ("lines", "R", "stations")


WORDS = ("absent", None, "unknown", "")
LEAVING_OUT = [
    (made, instead)
    for made, ways in (
        (hidden_kind, WORDS),
        (place_of_an_opening, WORDS),
        (planes_of_a_line, (*WORDS, [])),
        (one_plane_of_a_line, ("absent",)),
        (text_in_a_condition, WORDS),
        (row_of_a_table, WORDS),
        (stations_of_a_line, ("absent", None, [], [None])),
    )
    for instead in ways
]


def test_ways_to_leave_out_are_many() -> None:
    """Clause 11: the table of values worth leaving out has not shrunk."""
    assert len(LEAVING_OUT) == 26


@pytest.mark.parametrize(
    ("made", "instead"), LEAVING_OUT, ids=lambda part: getattr(part, "__name__", repr(part))
)
def test_leaving_a_value_out_gains_nothing(made: Callable[[], Leaving], instead: object) -> None:
    """Clause 11: a value blanked or removed gives no new pass or not-applicable, no roof pass."""
    data, text, path = made()
    against = plan(text)
    before = evaluate(against, record(data, against))
    assert str(before.outcome) != PASS
    after = evaluate(against, record(blanked(data, path, instead), against))
    assert new_ground(before, after) == []
    assert str(after.outcome) != PASS


# 12, outcome of each rulebook


def test_each_rulebook_has_its_outcome() -> None:
    """Clause 12: one rulebook's pass softens no other's failure, nor the other way round."""
    lax = rulebook(rule("slope", "plane.slope", {"at_least": "2:12"}), name="t/lax@1")
    strict = rulebook(rule("slope", "plane.slope", {"at_least": "8:12"}), name="t/strict@1")
    done = audit(roof(), lax, strict, asked=("t/lax@1", "t/strict@1"))
    assert {book.edition.book.id: str(book.outcome) for book in done.books} == {
        "t/lax": PASS,
        "t/strict": FAIL,
    }
    assert str(done.outcome) == FAIL
    assert sum(done.counts.values()) == len(done.findings) == 4
    for book in done.books:
        assert sum(book.counts.values()) == 2


def test_open_points_count_in_the_rulebooks_they_concern() -> None:
    """Clauses 10 and 12: an open point about lines leaves a rulebook on planes alone."""
    hips = rulebook({**HIPS}, name="t/hips@1")
    slopes = rulebook(SLOPE, name="t/slopes@1")
    data = roof(planes=PLANES, complete=all_listed(hips="none"))
    done = audit(data, hips, slopes, asked=("t/hips@1", "t/slopes@1"))
    assert {book.edition.book.id: str(book.outcome) for book in done.books} == {
        "t/hips": OPEN,
        "t/slopes": PASS,
    }
    assert str(done.outcome) == OPEN


# 13, scope

SLATE = {"covering": {"one_of": ["composite slate", "natural slate"]}}
IRON = {"covering": "metal panel"}
SCOPES: list[tuple[dict[str, Any], dict[str, Any], object, str]] = [
    # the rulebook's scope, the rule's, the roof's covering, what the rule comes to at the roof
    (SLATE, {}, "composite slate", PASS),
    (SLATE, {}, "asphalt shingle", NA),
    (SLATE, {}, None, OPEN),
    (SLATE, {}, "absent", OPEN),
    ({}, SLATE, "natural slate", PASS),
    ({}, SLATE, "metal panel", NA),
    ({}, SLATE, "unknown", OPEN),
    (SLATE, IRON, "composite slate", NA),
    (SLATE, IRON, "metal panel", NA),
    (SLATE, {"building": "dwelling"}, "composite slate", OPEN),
    (SLATE, {"building": "dwelling"}, "clay tile", NA),
]


def test_scopes_are_many() -> None:
    """Clause 13: the table of scopes has not shrunk."""
    assert len(SCOPES) == 11


@pytest.mark.parametrize(("whole", "own", "covering", "expected"), SCOPES)
def test_scope(whole: dict[str, Any], own: dict[str, Any], covering: object, expected: str) -> None:
    """Clause 13: out of scope is not applicable with that reason, unknown scope not verified."""
    asked = rule("r", "roof.place", "Tarn", **({"scope": own} if own else {}))
    book = rulebook(asked, **({"scope": whole} if whole else {}))
    facts = {} if covering == "absent" else {"covering": covering}
    found = only(audit({"roof": {"id": "T", "place": "Tarn", **facts}}, book), "r", "roof")
    assert str(found.outcome) == expected
    assert ("out of scope" in found.reason) == (expected == NA)


def test_rulebook_out_of_scope_is_not_applicable() -> None:
    """Clauses 12 and 13: a rulebook written for another covering is not applicable as a whole."""
    tile = rulebook(SLOPE, HIPS, name="t/tile@1", scope={"covering": "clay tile"})
    any_roof = rulebook(SLOPE, name="t/any@1")
    data = {"roof": {"id": "T", "covering": "metal panel"}, "complete": {"planes": "all"},
            "planes": {"S": PLANES["S"]}}  # fmt: skip
    done = audit(data, tile, any_roof, asked=("t/tile@1", "t/any@1"))
    assert [str(book.outcome) for book in done.books] == [NA, PASS]
    assert open_points(done) == []  # nor are hips asked for on its account
    assert str(done.outcome) == PASS


# 14, root and amendments

BASE = rulebook(rule("slope", "plane.slope", {"at_least": "2:12"}), name="t/base@1")
CHILD = rulebook(
    name="t/child@1",
    based_on=["t/base@1"],
    amendments=[amendment("slope", limit={"at_least": "8:12"})],
)
SILENT = rulebook(name="t/silent@1", based_on=["t/base@1"])


def test_base_beside_its_child_is_judged_once() -> None:
    """Clause 14: a rule that a child leaves as it is has one finding, counted in both rulebooks."""
    done = audit(roof(), BASE, SILENT, asked=("t/base@1", "t/silent@1"))
    assert [found.books for found in findings(done, "slope")] == [("t/base@1", "t/silent@1")] * 2
    assert [book.counts[found.outcome] for book in done.books for found in done.findings[:1]] == [
        2,
        2,
    ]


def test_amended_rule_is_judged_in_both_forms() -> None:
    """Clause 14: a rule that a child changes is judged as the base has it and as the child does."""
    done = audit(roof(), BASE, CHILD, asked=("t/base@1", "t/child@1"))
    assert [(found.books, str(found.outcome)) for found in findings(done, "slope")] == [
        (("t/base@1",), PASS),
        (("t/base@1",), PASS),
        (("t/child@1",), FAIL),
        (("t/child@1",), FAIL),
    ]
    changed = findings(done, "slope")[-1].rule
    assert changed is not None
    assert (changed.full_id, [change.book for change in changed.changes]) == (
        "t/base#slope",
        ["t/child@1"],
    )


def test_narrower_scope_parts_a_rule_from_its_base() -> None:
    """Clauses 13 and 14: a child written for one covering leaves the base's rule as it was."""
    narrow = rulebook(name="t/narrow@1", based_on=["t/base@1"], scope=SLATE)
    data = {**roof(), "roof": {"id": "T", "covering": "metal panel"}}
    done = audit(data, BASE, narrow, asked=("t/base@1", "t/narrow@1"))
    assert {(found.books[0], str(found.outcome)) for found in done.findings} == {
        ("t/base@1", PASS),
        ("t/narrow@1", NA),
    }


def test_withdrawn_rule_is_not_applicable_with_its_reason() -> None:
    """Clause 14: a withdrawal is said once, with its reason, and the base's own audit stands."""
    gone = amendment("slope", permitted_by="county order 9", reason="flat roofs are common here")
    child = rulebook(name="t/gone@1", based_on=["t/base@1"], withdrawals=[gone])
    done = audit(roof(), child, BASE)
    found = only(done, "slope", "roof")
    assert str(found.outcome) == NA
    assert "withdrawn by t/gone@1: flat roofs are common here" in found.reason
    assert [str(book.outcome) for book in done.books] == [NA]
    assert str(done.outcome) == OPEN
    both = audit(roof(), BASE, child, asked=("t/base@1", "t/gone@1"))
    assert [str(book.outcome) for book in both.books] == [PASS, NA]


# 16, editions


def edition(name: str, first: str, last: str, figure: str, **fields: object) -> str:
    """Return one edition of a rulebook, in force from one day to another."""
    days = {key: day for key, day in (("from", first), ("to", last)) if day}
    chosen = {"in_force_by": "permit", **({"in_force": days} if days else {}), **fields}
    return rulebook(rule("slope", "plane.slope", {"at_least": figure}), name=name, **chosen)


OLD = edition("t/code@2024", "", "2024-12-31", "2:12")
NEW = edition("t/code@2026", "2026-01-01", "", "8:12")
PERMITS: list[tuple[object, str, str]] = [
    # permit date, what the rulebook comes to, what is said of the edition
    ("2024-12-31", PASS, "to 2024-12-31"),
    ("2026-01-01", FAIL, "from 2026-01-01"),
    ("2030-01-01", FAIL, "from 2026-01-01"),
    ("1999-01-01", PASS, "to 2024-12-31"),
    ("2025-06-01", OPEN, "no edition at hand was in force"),
    (None, OPEN, "left blank"),
    ("unknown", OPEN, "permit date is unknown"),
    ("absent", OPEN, "not recorded"),
]


def test_permits_are_many() -> None:
    """Clause 16: the table of permit dates has not shrunk."""
    assert len(PERMITS) == 8


@pytest.mark.parametrize(("permit", "expected", "told"), PERMITS)
def test_date_picks_the_edition(permit: object, expected: str, told: str) -> None:
    """Clause 16: the date picks the edition; a gap or no date is not verified, never the latest."""
    dates = {} if permit == "absent" else {"permit": permit}
    for books in ((OLD, NEW), (NEW, OLD)):
        done = audit(roof(dates=dates), *books, asked=("t/code",))
        (book,) = done.books
        assert str(book.outcome) == str(done.outcome) == expected
        reasons = {book.note, *(found.reason for found in done.findings)}
        assert any(told in reason for reason in reasons), reasons


def test_editions_that_overlap_leave_it_open() -> None:
    """Clause 16: two editions in force on one day are not verified."""
    wide = edition("t/code@2025", "2024-01-01", "", "2:12")
    done = audit(roof(dates={"permit": "2026-02-02"}), OLD, wide, NEW, asked=("t/code",))
    assert str(done.outcome) == OPEN
    assert "2025, 2026" in done.findings[0].reason


DATES = {
    "permit": ("dates", "permit"),
    "installation": ("dates", "installation"),
    "registration": ("dates", "registration"),
    "inspection": ("inspection", "date"),
}


@pytest.mark.parametrize("kind", DATES)
def test_each_date_can_pick(kind: str) -> None:
    """Clause 16: permit, installation, registration or inspection picks, and no other date."""
    old = edition("t/code@2024", "", "2025-12-31", "2:12", in_force_by=kind)
    new = edition("t/code@2026", "2026-01-01", "", "8:12", in_force_by=kind)

    def outcome(mine: str, others: str) -> str:
        data = roof(dates={}, inspection={})
        for other, (section, key) in DATES.items():
            data[section][key] = mine if other == kind else others
        return str(audit(data, old, new, asked=("t/code",)).outcome)

    assert outcome("2025-02-02", "2026-02-02") == PASS
    assert outcome("2026-02-02", "2025-02-02") == FAIL
    assert outcome("unknown", "2025-02-02") == OPEN


def test_pinned_edition_outside_its_days() -> None:
    """Clause 16: an edition named outright is still not verified where it was not in force."""
    late = roof(dates={"permit": "2026-05-05"})
    assert str(audit(late, OLD, asked=("t/code@2024",)).outcome) == OPEN
    assert str(audit(late, OLD, NEW, asked=("t/code@2026",)).outcome) == FAIL
    early = roof(dates={"permit": "2020-05-05"})
    assert str(audit(early, OLD, asked=("t/code@2024",)).outcome) == PASS


def test_editions_without_days_must_be_named() -> None:
    """Clause 16: several editions that no date tells apart are not verified until one is named."""
    one, two = rulebook(SLOPE, name="t/a@1"), rulebook(SLOPE, name="t/a@2")
    assert str(audit(roof(), one, asked=("t/a",)).outcome) == PASS
    assert str(audit(roof(), one, two, asked=("t/a",)).outcome) == OPEN
    assert str(audit(roof(), one, two, asked=("t/a@1",)).outcome) == PASS


def test_editions_picked_by_different_dates_are_open() -> None:
    """Clause 16: no date picks among editions of which one goes by permit, one by installation."""
    by_work = edition("t/code@2024", "", "2025-12-31", "2:12", in_force_by="installation")
    dates = {"permit": "2025-05-05", "installation": "2026-05-05"}
    done = audit(roof(dates=dates), by_work, NEW, asked=("t/code",))
    assert str(done.outcome) == OPEN


GONE = amendment("slope", permitted_by="county order 9")
NEWER = {
    "without rules": rulebook(name="t/code@2026", in_force={"from": "2026-01-01"},
                              in_force_by="permit"),
    "for another covering": edition("t/code@2026", "2026-01-01", "", "8:12", scope=IRON),
    "that withdraws it": rulebook(name="t/code@2026", in_force={"from": "2026-01-01"},
                                  in_force_by="permit", based_on=["t/base@1"], withdrawals=[GONE]),
}  # fmt: skip


@pytest.mark.parametrize("newer", NEWER)
def test_missing_date_hides_no_older_rule(newer: str) -> None:
    """Clauses 11 and 16: a newest edition that asks nothing is no way out of a missing date."""
    old = edition("t/code@2024", "", "2025-12-31", "12:12")
    other = rulebook(rule("flat", "plane.slope", {"at_least": "2:12"}), name="t/other@1")

    def done(permit: str | None) -> Audit:
        house = {"id": "T", "covering": "composite slate"}
        data = roof(roof=house, dates={"permit": permit})
        return audit(data, old, NEWER[newer], other, BASE, asked=("t/code", "t/other"))

    before, after = done("2025-05-05"), done(None)
    assert str(before.outcome) == FAIL
    assert new_ground(before, after) == []
    assert str(after.outcome) == OPEN
    assert [str(book.outcome) for book in after.books] == [OPEN, PASS]


def test_no_edition_is_written_for_the_roof() -> None:
    """Clauses 13 and 16: where every edition is out of scope, which one it is does not matter."""
    old = edition("t/code@2024", "", "2025-12-31", "2:12", scope=SLATE)
    new = edition("t/code@2026", "2026-01-01", "", "8:12", scope=SLATE)
    house = {"id": "T", "covering": "metal panel"}
    done = audit(roof(roof=house), old, new, asked=("t/code",))
    assert outcomes(done, "slope") == {"roof": NA}


# the roof as a whole

EMPTY: dict[str, dict[str, Any]] = {
    "nothing but an id": {},
    "empty sections": {"planes": {}, "lines": {}, "complete": {}},
    "blank sections": {"planes": None, "lines": None, "complete": None, "dates": None},
    "a blank line": {**roof(), "planes": {}, "lines": {"H1": None}},
    "a blank plane": {**roof(), "planes": {"S": None}},
    "a line without stations": {**roof(hip()), "planes": PLANES},
    "nothing there": {"complete": dict.fromkeys(EVERYTHING, "none")},
}


def test_empty_records_are_many() -> None:
    """Clause 10: the table of empty records has not shrunk."""
    assert len(EMPTY) == 7


@pytest.mark.parametrize("name", EMPTY)
def test_empty_record_is_not_verified(name: str) -> None:
    """Clause 10: a roof of which nothing is known is not verified, and every finding says why."""
    book = rulebook(GAP, HIPS | {"id": "hips"}, rule("deep", "plane.deck_thickness", "1 in"))
    done = audit(EMPTY[name], book)
    assert str(done.outcome) == OPEN
    assert str(done.books[0].outcome) == (NA if name == "nothing there" else OPEN)
    assert all(found.reason for found in done.findings)
    assert done.counts == {found: n for found, n in done.counts.items() if found != PASS or not n}


def test_rulebook_without_rules_is_not_verified() -> None:
    """Clause 10: no finding is no pass."""
    done = audit(roof(), rulebook())
    assert (done.findings, str(done.outcome), str(done.books[0].outcome)) == ((), OPEN, OPEN)


ROOFS: list[tuple[tuple[str, ...], str]] = [
    (("3 in",), PASS),
    (("3 in", "2 in"), FAIL),
    (("3 in", "unknown"), OPEN),
    (("3 in", "2 in", "unknown"), FAIL),
]


@pytest.mark.parametrize(("readings", "expected"), ROOFS)
def test_outcome_of_the_roof(readings: tuple[str, ...], expected: str) -> None:
    """A roof fails if anything failed, else is not verified if anything is open, else passes."""
    done = audit(roof(hip(*({"gap": reading} for reading in readings))), rulebook(GAP))
    assert str(done.outcome) == expected
    assert sum(done.counts.values()) == len(done.findings) == len(readings)


def test_same_findings_every_time() -> None:
    """A plan holds any number of records, and the same one gives the same findings."""
    book = rulebook(GAP, SLOPE, SETBACK)
    against = plan(book)
    data = roof(hip({"gap": "3 in"}, {"setback": {"S": "1 in"}}))

    def told(done: Audit) -> list[tuple[Any, ...]]:
        def line(found: Finding) -> tuple[Any, ...]:
            return found.rule and found.rule.id, found.place.label, found.outcome, found.reason

        return [line(found) for found in done.findings]

    first = told(evaluate(against, record(data, against)))
    assert told(evaluate(against, record({}, against))) != first
    assert told(evaluate(against, record(data, against))) == first
    assert told(audit(data, book)) == first


def test_conditions_that_no_kind_of_line_meets() -> None:
    """A rule on lines or stations that no kind of line can meet is not applicable, and says so."""
    never = {"all_of": [{"line.kind": "hip"}, {"line.kind": "ridge"}]}
    book = rulebook(
        rule("station", "station.gap", {"at_least": "3 in"}, when=never),
        rule("line", "line.length", {"at_least": "3 ft"}, when=never),
    )
    done = audit({"planes": {"S": {}}}, book)
    for id_ in ("station", "line"):
        (found,) = findings(done, id_)
        assert (str(found.outcome), found.reason) == (
            "not applicable",
            "its conditions leave room for no kind of line",
        )

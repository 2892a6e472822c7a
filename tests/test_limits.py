"""Limits and conditions: each kind met, missed and unknown, on the limit and with its margin."""

from __future__ import annotations

from fractions import Fraction
from functools import lru_cache
from itertools import product
from typing import TYPE_CHECKING, Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from ridgerule.audit.evaluate import evaluate
from ridgerule.audit.truth import Judgement, Truth, every, invert, negation, some
from ridgerule.quantities import Dimension, Quantity
from workshop import all_listed, audit, only, plan, problems, record, rule, rulebook

if TYPE_CHECKING:
    from ridgerule.audit.findings import Finding
    from ridgerule.audit.plan import Plan

PASS, FAIL, OPEN, NA = "pass", "fail", "not verified", "not applicable"
INCH = 25_400_000  # nanometres: 1 in = 25.4 mm exactly (NIST SP 811)
LINE = "hip H1"


def roof(line: dict[str, Any] | None = None, **planes: dict[str, Any]) -> dict[str, Any]:
    """Return a roof of two planes and the hip between them."""
    sides = {"S": {"faces": "180 deg"}, "E": {"faces": "90 deg"}}
    return {
        "complete": all_listed(),
        "planes": {id_: {**facts, **planes.get(id_, {})} for id_, facts in sides.items()},
        "lines": {"H1": {"kind": "hip", "between": ["S", "E"], "length": "18 ft", **(line or {})}},
    }


def at_the_line(of: str, limit: object, line: dict[str, Any], **fields: object) -> Finding:
    """Return what a rule on one fact of the line comes to."""
    done = audit(roof(line), rulebook(rule("r", of, limit, **fields)))
    return only(done, "r", LINE)


def facts(*values: object, names: tuple[str, ...]) -> dict[str, Any]:
    """Return facts of a line, leaving out those that are not recorded at all."""
    return {name: value for name, value in zip(names, values, strict=True) if value != "absent"}


WIDTH = ("line.membrane_width", ("membrane_width",))
STRIP = ("line.membrane", ("membrane",))
SHEET = ("line.membrane_standard", ("membrane_standard",))
CAP = ("line.cap_profile", ("cap_profile", "angle"))
STRIP_BY_ANGLE = ("line.membrane_width", ("membrane_width", "angle"))
BY_ANGLE = {
    "table": {
        "by": "line.angle",
        "rows": [
            {"for": {"at_most": "100 deg"}, "limit": {"at_least": "9 in"}},
            {"for": {"between": ["101 deg", "120 deg"]}, "limit": {"at_least": "12 in"}},
        ],
    }
}
NEAREST = {"nearest_of": {"to": "line.angle", "values": ["110 deg", "120 deg", "130 deg"]}}
CLOSE = {"same_as": "line.angle", "within": "2 deg"}

KINDS: dict[str, tuple[tuple[str, tuple[str, ...]], object, list[tuple[object, ...]]]] = {
    # limit: the fact, the limit, then rows of readings with what must come out
    "at_least": (WIDTH, {"at_least": "9 in"}, [
        ("9 in", PASS), ("9 1/64 in", PASS), ("8 63/64 in", FAIL), (None, OPEN)]),
    "at_most": (WIDTH, {"at_most": "9 in"}, [
        ("9 in", PASS), ("8 63/64 in", PASS), ("9 1/64 in", FAIL), ("unknown", OPEN)]),
    "between": (WIDTH, {"between": ["9 in", "12 in"]}, [
        ("9 in", PASS), ("12 in", PASS), ("8 63/64 in", FAIL), ("12 1/64 in", FAIL),
        ("can't reach", OPEN)]),
    "equal_to": (WIDTH, {"equal_to": "9 in"}, [
        ("9 in", PASS), ("228.6 mm", PASS), ("9 1/64 in", FAIL), ("absent", OPEN)]),
    "a bare value": (WIDTH, "9 in", [("228.6 mm", PASS), ("228.7 mm", FAIL), (None, OPEN)]),
    "within": (WIDTH, {"equal_to": "9 in", "within": "1/4 in"}, [
        ("8 3/4 in", PASS), ("9 1/4 in", PASS), ("8 47/64 in", FAIL), ("9 17/64 in", FAIL),
        (None, OPEN)]),
    "one_of": (SHEET, {"one_of": ["D1970", "D8257"]}, [
        ("D8257", PASS), ("D4869", FAIL), ("unknown", OPEN), ("absent", OPEN)]),
    "one_of figures": (WIDTH, {"one_of": ["9 in", "12 in"]}, [
        ("304.8 mm", PASS), ("10 in", FAIL), (None, OPEN)]),
    "none_of": (SHEET, {"none_of": ["none", "D4869"]}, [
        ("D1970", PASS), ("none", FAIL), (None, OPEN)]),
    "present": (STRIP, "present", [
        (True, PASS), ("yes", PASS), (False, FAIL), ("no", FAIL), ("absent", OPEN), (None, OPEN),
        ("unknown", OPEN)]),
    "absent": (STRIP, "absent", [
        (False, PASS), (True, FAIL), ("absent", OPEN), (None, OPEN), ("can't reach", OPEN)]),
    "yes or no": (STRIP, False, [(False, PASS), (True, FAIL), (None, OPEN)]),
    "same_as": (CAP, CLOSE, [
        ("120 deg", "118 deg", PASS), ("120 deg", "122 deg", PASS), ("120 deg", "117 deg", FAIL),
        ("120 deg", None, OPEN), (None, "120 deg", OPEN), ("absent", "absent", OPEN)]),
    "another fact": (CAP, {"at_least": "line.angle"}, [
        ("120 deg", "120 deg", PASS), ("119 deg", "120 deg", FAIL), ("119 deg", "unknown", OPEN)]),
    "nearest_of": (CAP, NEAREST, [
        ("120 deg", "118 deg", PASS), ("110 deg", "118 deg", FAIL), ("119 deg", "118 deg", FAIL),
        ("110 deg", "20 deg", PASS), ("130 deg", "170 deg", PASS),
        ("110 deg", "115 deg", OPEN), ("120 deg", "115 deg", OPEN), ("130 deg", "115 deg", FAIL),
        ("120 deg", None, OPEN), (None, "118 deg", OPEN)]),
    "table": (STRIP_BY_ANGLE, BY_ANGLE, [
        ("9 in", "100 deg", PASS), ("8 in", "100 deg", FAIL), ("9 in", "101 deg", FAIL),
        ("12 in", "120 deg", PASS), ("99 in", "100 1/2 deg", OPEN), ("99 in", "121 deg", OPEN),
        ("99 in", None, OPEN), (None, "100 deg", OPEN)]),
    "all_of": (WIDTH, {"all_of": [{"at_least": "9 in"}, {"none_of": ["10 in"]}]}, [
        ("9 in", PASS), ("10 in", FAIL), ("8 in", FAIL), (None, OPEN)]),
    "keys side by side": (WIDTH, {"at_least": "9 in", "at_most": "12 in"}, [
        ("12 in", PASS), ("13 in", FAIL), ("8 in", FAIL), (None, OPEN)]),
    "any_of": (WIDTH, {"any_of": [{"at_most": "9 in"}, {"equal_to": "12 in"}]}, [
        ("9 in", PASS), ("12 in", PASS), ("10 in", FAIL), (None, OPEN)]),
    "not": (WIDTH, {"not": {"at_most": "9 in"}}, [
        ("9 1/64 in", PASS), ("9 in", FAIL), (None, OPEN)]),
}  # fmt: skip
ROWS = [
    pytest.param(fact, limit, row, id=f"{name}: {row}")
    for name, (fact, limit, rows) in KINDS.items()
    for row in rows
]


def test_every_kind_of_limit_has_each_answer() -> None:
    """The table holds every kind of limit, each met, missed and unknown."""
    assert len(KINDS) == 20
    assert len(ROWS) == 92
    for name, (_, _, rows) in KINDS.items():
        assert {row[-1] for row in rows} == {PASS, FAIL, OPEN}, name


@pytest.mark.parametrize(("fact", "limit", "row"), ROWS)
def test_limit(fact: tuple[str, tuple[str, ...]], limit: object, row: tuple[object, ...]) -> None:
    """A limit of each kind is met, missed or unknown, as the readings stand to it."""
    *values, expected = row
    found = at_the_line(fact[0], limit, facts(*values, names=fact[1]))
    assert str(found.outcome) == expected
    assert bool(found.missing) == (expected == OPEN)


HIP, VENTED = {"line.kind": "hip"}, {"line.vented": True}
CONDITIONS: list[tuple[object, dict[str, Any], str]] = [
    ({"line.vented": True}, {"vented": True}, PASS),
    ({"line.vented": True}, {"vented": False}, NA),
    ({"line.vented": True}, {"vented": "unknown"}, OPEN),
    ({"line.vented": "absent"}, {"vented": False}, PASS),
    ({"line.vented": "absent"}, {}, OPEN),
    ({"line.vented": "present"}, {}, OPEN),
    ({"line.length": {"at_least": "18 ft"}}, {}, PASS),
    ({"line.length": {"between": ["1 ft", "2 ft"]}}, {}, NA),
    ({"line.kind": {"one_of": ["hip", "ridge"]}}, {}, PASS),
    ({"line.kind": {"none_of": ["hip", "ridge"]}}, {}, NA),
    ({"line.kind": {"not": {"equal_to": "hip"}}}, {}, NA),
    # Side by side and all_of: a definite false beats an unknown.
    ({**HIP, **VENTED}, {}, OPEN),
    ({"line.kind": "ridge", **VENTED}, {}, NA),
    ({"all_of": [HIP, VENTED]}, {"vented": True}, PASS),
    ({"all_of": [{"line.kind": "ridge"}, VENTED]}, {"vented": "can't reach"}, NA),
    # any_of: a definite true beats an unknown.
    ({"any_of": [HIP, VENTED]}, {}, PASS),
    ({"any_of": [{"line.kind": "ridge"}, VENTED]}, {}, OPEN),
    ({"any_of": [{"line.kind": "ridge"}, VENTED]}, {"vented": False}, NA),
    ({"not": VENTED}, {"vented": False}, PASS),
    ({"not": VENTED}, {"vented": True}, NA),
    ({"not": VENTED}, {}, OPEN),
    ({"not": {**HIP, **VENTED}}, {"vented": False}, PASS),
    ({"not": {"any_of": [HIP, VENTED]}}, {}, NA),
    ({"line.cap_profile": NEAREST}, {"cap_profile": "120 deg", "angle": "119 deg"}, PASS),
    ({"line.cap_profile": NEAREST}, {"cap_profile": "120 deg", "angle": "115 deg"}, OPEN),
    ({"line.membrane_width": BY_ANGLE}, {"membrane_width": "9 in", "angle": "90 deg"}, PASS),
    ({"line.membrane_width": BY_ANGLE}, {"membrane_width": "8 in", "angle": "90 deg"}, NA),
    ({"line.membrane_width": BY_ANGLE}, {"membrane_width": "9 in", "angle": "170 deg"}, OPEN),
]


def test_conditions_have_each_answer() -> None:
    """The table of conditions holds true, false and unknown ones."""
    assert len(CONDITIONS) == 28
    assert {expected for _, _, expected in CONDITIONS} == {PASS, NA, OPEN}


@pytest.mark.parametrize(("when", "line", "expected"), CONDITIONS)
def test_condition(when: object, line: dict[str, Any], expected: str) -> None:
    """A condition that holds lets the rule judge, a false one does not, an unknown is open."""
    found = at_the_line("line.length", {"at_least": "1 ft"}, line, when=when)
    assert str(found.outcome) == expected


# on the limit


@lru_cache
def gap_plan(limit: str, figure: str) -> Plan:
    """Return the plan of one rule on the gap."""
    return plan(rulebook(rule("gap", "station.gap", {limit: figure})))


def gap_outcome(limit: str, figure: str, reading: str) -> str:
    """Return what one reading of the gap comes to."""
    against = gap_plan(limit, figure)
    done = audit(roof({"stations": [{"at": "2 ft", "gap": reading}]}), against)
    return str(only(done, "gap", "hip H1 at 2 ft").outcome)


@pytest.mark.parametrize(
    ("reading", "at_least", "at_most"),
    [
        ("3 1/16 in", PASS, PASS),
        ("77.7875 mm", PASS, PASS),  # 3 1/16 in is 77.7875 mm (NIST SP 811: 1 in = 25.4 mm)
        ("7.77875 cm", PASS, PASS),
        ("77.7874 mm", FAIL, PASS),
        ("77.7876 mm", PASS, FAIL),
        ("3 3/64 in", FAIL, PASS),
        ("3 5/64 in", PASS, FAIL),
    ],
)
def test_reading_on_the_limit_meets_it(reading: str, at_least: str, at_most: str) -> None:
    """A reading on the limit meets it from both sides, in inches and millimetres alike."""
    for figure in ("3 1/16 in", "77.7875 mm"):
        assert gap_outcome("at_least", figure, reading) == at_least
        assert gap_outcome("at_most", figure, reading) == at_most


def test_every_sixteenth_in_millimetres_meets_its_limit() -> None:
    """Each sixteenth to 5 in, written in millimetres, is the same length (NIST SP 811)."""
    count = 0
    for sixteenths in range(1, 81):
        ten_thousandths = sixteenths * 15_875  # 1/16 in = 1.5875 mm
        reading = f"{ten_thousandths // 10_000}.{ten_thousandths % 10_000:04} mm"
        figure = f"{sixteenths}/16 in"
        assert gap_outcome("at_least", figure, reading) == PASS
        assert gap_outcome("at_most", figure, reading) == PASS
        count += 1
    assert count == 80


MARGINS: list[tuple[object, str, Fraction]] = [
    # limit, reading, how far inside in inches
    ({"at_least": "9 in"}, "9 1/16 in", Fraction(1, 16)),
    ({"at_least": "9 in"}, "9 in", Fraction(0)),
    ({"at_least": "9 in"}, "8 3/4 in", Fraction(-1, 4)),
    ({"at_most": "9 in"}, "8 3/4 in", Fraction(1, 4)),
    ({"at_most": "9 in"}, "10 in", Fraction(-1)),
    ({"between": ["9 in", "12 in"]}, "9 1/2 in", Fraction(1, 2)),
    ({"between": ["9 in", "12 in"]}, "11 3/4 in", Fraction(1, 4)),
    ({"between": ["9 in", "12 in"]}, "8 in", Fraction(-1)),
    ({"between": ["9 in", "12 in"]}, "14 in", Fraction(-2)),
    ({"equal_to": "9 in", "within": "1/4 in"}, "9 1/8 in", Fraction(1, 8)),
    ({"equal_to": "9 in", "within": "1/4 in"}, "8 in", Fraction(-3, 4)),
    ({"not": {"at_most": "9 in"}}, "10 in", Fraction(1)),
    ({"not": {"at_most": "9 in"}}, "8 in", Fraction(-1)),
    ({"any_of": [{"at_most": "9 in"}, {"at_least": "12 in"}]}, "11 in", Fraction(-1)),
    (BY_ANGLE, "10 in", Fraction(1)),
]


def test_margins_cover_both_sides() -> None:
    """The table of margins holds readings inside, on and outside their limits."""
    assert len(MARGINS) == 15
    assert {(margin > 0) - (margin < 0) for _, _, margin in MARGINS} == {-1, 0, 1}


@pytest.mark.parametrize(("limit", "reading", "inches"), MARGINS)
def test_margin(limit: object, reading: str, inches: Fraction) -> None:
    """The margin is how far inside the limit a reading lies, below nothing where it fails."""
    line = {"membrane_width": reading, "angle": "90 deg"}
    found = at_the_line("line.membrane_width", limit, line)
    assert found.margin == Quantity(Dimension.LENGTH, inches * INCH, "")
    assert str(found.outcome) == (FAIL if inches < 0 else PASS)


def test_margin_of_temperatures_is_a_difference() -> None:
    """Two temperatures lie a temperature difference apart: 68 °F is 10 °C over 50 °F."""
    book = rulebook(rule("warm", "roof.air_temperature", {"at_least": "50 degF"}))
    found = only(audit({"inspection": {"temperature": "68 degF"}}, book), "warm", "roof")
    assert found.margin == Quantity(Dimension.TEMPERATURE_DIFFERENCE, 10, "")


@pytest.mark.parametrize(
    ("installed", "expected", "days"),
    [("2026-03-02", PASS, 0), ("2026-03-09", PASS, 7), ("2026-03-01", FAIL, -1), (None, OPEN, 0)],
)
def test_dates_are_ordered(installed: str | None, expected: str, days: int) -> None:
    """A date is held against another date; the margin is in days."""
    book = rulebook(rule("after", "roof.installation_date", {"at_least": "roof.permit_date"}))
    done = audit({"dates": {"permit": "2026-03-02", "installation": installed}}, book)
    found = only(done, "after", "roof")
    assert str(found.outcome) == expected
    if installed:
        assert found.margin == Quantity(Dimension.DURATION, days, "")


@pytest.mark.parametrize(
    ("registered", "expected"),
    [("2026-07-20", PASS), ("2026-08-19", PASS), ("2026-08-20", FAIL), ("unknown", OPEN)],
)
def test_dates_within_days(registered: str, expected: str) -> None:
    """A date within so many days of another counts the last: 20 July and 30 days make 19 August."""
    limit = {"same_as": "roof.installation_date", "within": "30 days"}
    book = rulebook(rule("soon", "roof.registration_date", limit))
    done = audit({"dates": {"installation": "2026-07-20", "registration": registered}}, book)
    assert str(only(done, "soon", "roof").outcome) == expected


# tables


def test_table_names_its_gap() -> None:
    """A value between two rows is unknown, and the reason says for which value there is no row."""
    line = {"membrane_width": "99 in", "angle": "100 1/2 deg"}
    found = at_the_line("line.membrane_width", BY_ANGLE, line)
    assert found.outcome == OPEN
    assert "100 1/2 deg" in found.reason
    assert found.missing[0].fact is not None
    assert found.missing[0].fact.full_name == "line.angle"


def test_table_says_the_row_that_applied() -> None:
    """The finding's limit is the row's, not the whole table."""
    found = at_the_line(
        "line.membrane_width", BY_ANGLE, {"membrane_width": "9 in", "angle": "110 deg"}
    )
    assert (str(found.outcome), found.limit) == (FAIL, "at least 12 in")


TWO_WAYS = {
    "table": {
        "by": ["line.vented", "line.angle"],
        "rows": [
            {"for": [True, {"at_most": "120 deg"}], "limit": {"at_least": "9 in"}},
            {"for": [True, {"at_least": "121 deg"}], "limit": {"at_least": "12 in"}},
            {"for": [False, {"at_most": "180 deg"}], "limit": {"at_least": "18 in"}},
        ],
    }
}


@pytest.mark.parametrize(
    ("vented", "angle", "expected"),
    [
        (True, "120 deg", PASS),
        (True, "121 deg", FAIL),
        (False, "120 deg", FAIL),
        (False, None, OPEN),
        (None, "120 deg", OPEN),
        (True, None, OPEN),
    ],
)
def test_table_by_two_facts(vented: object, angle: object, expected: str) -> None:
    """A row of a table by two facts is picked by both; one unknown leaves the row open."""
    line = {"membrane_width": "10 in", "vented": vented, "angle": angle}
    assert str(at_the_line("line.membrane_width", TWO_WAYS, line).outcome) == expected


def rows(*keys: object) -> object:
    """Return a table by the line's angle, or by whatever the keys speak of."""
    by = ["line.vented", "line.angle"] if isinstance(keys[0], list) else "line.angle"
    return {
        "table": {"by": by, "rows": [{"for": key, "limit": {"at_least": "1 in"}} for key in keys]}
    }


OVERLAPPING = [
    rows({"at_most": "100 deg"}, {"at_least": "100 deg"}),  # the end is in both
    rows({"at_most": "100 deg"}, {"between": ["90 deg", "120 deg"]}),
    rows({"between": ["90 deg", "100 deg"]}, {"equal_to": "95 deg"}),
    rows({"one_of": ["90 deg", "120 deg"]}, {"equal_to": "120 deg"}),
    rows("90 deg", {"at_least": "0 deg"}),
    rows([True, {"at_most": "90 deg"}], [True, {"at_most": "80 deg"}]),
    rows({"not": {"at_most": "90 deg"}}, {"at_least": "95 deg"}),
    rows({"not": {"between": ["9 deg", "90 deg"]}}, {"equal_to": "50 deg"}),  # can't be told
]
APART = [
    rows({"at_most": "100 deg"}, {"not": {"at_most": "100 deg"}}),  # the end is in the first
    rows({"at_most": "100 deg"}, {"at_least": "101 deg"}),
    rows({"one_of": ["90 deg", "120 deg"]}, {"equal_to": "121 deg"}),
    rows([True, {"at_most": "90 deg"}], [False, {"at_most": "90 deg"}]),
]


def test_overlaps_are_many() -> None:
    """The tables of rows that overlap, and of rows that don't, have not shrunk."""
    assert (len(OVERLAPPING), len(APART)) == (8, 4)


@pytest.mark.parametrize("limit", OVERLAPPING)
def test_overlapping_rows_are_refused(limit: object) -> None:
    """Rows that one value could pick both of are a problem of the file, at the second row."""
    (problem,) = problems(lambda: plan(rulebook(rule("r", "line.membrane_width", limit))))
    assert "overlap" in problem.expected
    assert problem.location.line > 1


@pytest.mark.parametrize("limit", APART)
def test_rows_apart_are_taken(limit: object) -> None:
    """Rows that no value picks both of compile."""
    (book,) = plan(rulebook(rule("r", "line.membrane_width", limit))).books
    assert len(book.editions[0].checks) == 1


@pytest.mark.parametrize("lower", ["3:12", None])
def test_table_by_any_picks_no_row_by_luck(lower: str | None) -> None:
    """Where two rows hold, by `any` of two planes, none is picked, known or unknown alike."""
    table = {
        "by": "any plane.slope",
        "rows": [
            {"for": {"at_most": "4:12"}, "limit": {"at_least": "18 in"}},
            {"for": {"at_least": "5:12"}, "limit": {"at_least": "9 in"}},
        ],
    }
    book = rulebook(rule("r", "line.membrane_width", {"table": table}))
    data = roof({"membrane_width": "12 in"}, S={"slope": lower}, E={"slope": "7:12"})
    assert str(only(audit(data, book), "r", LINE).outcome) == OPEN


# one over many

OVER: list[tuple[str, object, list[str | None], str]] = [
    ("each", {"at_least": "3 in"}, ["3 in", "4 in"], PASS),
    ("each", {"at_least": "3 in"}, ["2 in", "4 in"], FAIL),
    ("each", {"at_least": "3 in"}, ["3 in", None], OPEN),
    ("each", {"at_least": "3 in"}, ["2 in", None], FAIL),
    ("any", {"at_least": "3 in"}, ["2 in", "3 in"], PASS),
    ("any", {"at_least": "3 in"}, ["2 in", "2 in"], FAIL),
    ("any", {"at_least": "3 in"}, ["2 in", None], OPEN),
    ("any", {"at_least": "3 in"}, ["3 in", None], PASS),
    ("least", {"at_least": "3 in"}, ["3 in", "4 in"], PASS),
    ("least", {"at_least": "3 in"}, ["2 in", "4 in"], FAIL),
    ("least", {"at_least": "3 in"}, ["4 in", None], OPEN),
    ("least", {"at_least": "3 in"}, ["2 in", None], FAIL),  # no reading makes the least larger
    ("least", {"at_most": "3 in"}, ["3 in", None], PASS),  # nor can one lift it over the limit
    ("least", {"at_most": "3 in"}, ["4 in", None], OPEN),
    ("greatest", {"at_most": "3 in"}, ["2 in", "3 in"], PASS),
    ("greatest", {"at_most": "3 in"}, ["2 in", "4 in"], FAIL),
    ("greatest", {"at_most": "3 in"}, ["2 in", None], OPEN),
    ("greatest", {"at_most": "3 in"}, ["4 in", None], FAIL),
    ("greatest", {"at_least": "3 in"}, ["3 in", None], PASS),
    ("mean", {"at_least": "3 in"}, ["2 in", "4 in"], PASS),
    ("mean", {"at_least": "3 in"}, ["2 in", "3 63/64 in"], FAIL),
    ("mean", {"equal_to": "10/3 in"}, ["3 in", "3 in", "4 in"], PASS),
    ("mean", {"at_least": "3 in"}, ["30 in", None], OPEN),
    ("spread", {"at_most": "1/4 in"}, ["3 in", "3 1/4 in"], PASS),
    ("spread", {"at_most": "1/4 in"}, ["3 in", "3 17/64 in"], FAIL),
    ("spread", {"at_most": "1/4 in"}, ["3 in", "3 1/4 in", None], OPEN),
    ("spread", {"at_most": "1/4 in"}, ["3 in", "4 in", None], FAIL),
    ("count", {"at_least": 2}, ["3 in", "3 in"], PASS),
    ("count", {"at_least": 2}, ["3 in"], FAIL),
    ("count", {"at_least": 2}, ["3 in", None], OPEN),
    ("count", {"at_least": 2}, ["3 in", "3 in", None], PASS),
    ("count", {"at_most": 2}, ["3 in", "3 in", None], OPEN),
    ("count", {"at_most": 2}, ["3 in", "3 in", "3 in", None], FAIL),
    *((word, {"at_least": "0 in"}, [None, None], OPEN) for word in ("each", "any", "least",
      "greatest", "mean", "spread")),
    ("count", {"at_least": 1}, [None, None], OPEN),
    *((word, {"at_least": "0 in"}, [], OPEN) for word in ("each", "any", "least", "greatest",
      "mean", "spread")),
]  # fmt: skip


def test_every_word_has_each_answer() -> None:
    """The table holds each word for one over many, with each answer."""
    assert len(OVER) == 46
    for word in ("each", "any", "least", "greatest", "mean", "spread", "count"):
        assert {row[3] for row in OVER if row[0] == word} == {PASS, FAIL, OPEN}, word


def gaps(*readings: str | None) -> dict[str, Any]:
    """Return a roof whose hip has a station for each reading."""
    stations = [{"at": f"{i + 1} ft", "gap": reading} for i, reading in enumerate(readings)]
    return roof({"stations": stations})


@pytest.mark.parametrize(("word", "limit", "readings", "expected"), OVER)
def test_one_over_many(word: str, limit: object, readings: list[str | None], expected: str) -> None:
    """A word for one over many is certain only where no missing reading could change it."""
    book = rulebook(rule("r", f"{word} station.gap", limit, at="line"))
    found = only(audit(gaps(*readings), book), "r", LINE)
    assert str(found.outcome) == expected
    if None in readings:
        assert found.margin is None or word in ("each", "any")


def test_one_reading_has_no_spread() -> None:
    """The same all along can't be told from one reading: it is not verified, not a spread of 0."""
    book = rulebook(rule("r", "spread station.gap", {"at_most": "1/4 in"}, at="line"))
    found = only(audit(gaps("3 in"), book), "r", LINE)
    assert str(found.outcome) == OPEN
    assert "a second reading is needed" in found.reason


def test_value_and_margin_of_a_spread() -> None:
    """A spread's value and margin are what the readings come to: 5/16 in, 1/16 in too much."""
    limit = {"at_most": "1/4 in"}
    book = rulebook(rule("r", "spread station.gap", limit, at="line"))
    found = only(audit(gaps("3 in", "3 5/16 in", "3 1/8 in"), book), "r", LINE)
    assert found.value == Quantity(Dimension.LENGTH, Fraction(5, 16) * INCH, "")
    assert found.margin == Quantity(Dimension.LENGTH, Fraction(-1, 16) * INCH, "")
    assert len(found.measured) == 3


EIGHTHS = st.integers(0, 40)
WORDS = st.sampled_from(("each", "any", "least", "greatest", "mean", "spread"))


@lru_cache
def over_plan(word: str, limit: str, eighths: int) -> Plan:
    """Return the plan of one rule on all gaps of a line."""
    figure = {limit: f"{eighths}/8 in"}
    return plan(rulebook(rule("r", f"{word} station.gap", figure, at="line")))


@settings(max_examples=60, deadline=None)
@given(
    word=WORDS,
    limit=st.sampled_from(("at_least", "at_most")),
    figure=st.integers(0, 10),
    # Two at the least: one reading alone has no spread.
    readings=st.lists(st.one_of(st.none(), EIGHTHS), min_size=2, max_size=4),
    data=st.data(),
)
def test_certain_answers_outlive_any_reading(
    word: str, limit: str, figure: int, readings: list[int | None], data: st.DataObject
) -> None:
    """What is certain with readings missing stays so, whatever the missing readings are."""
    filled = [data.draw(EIGHTHS) if reading is None else reading for reading in readings]
    against = over_plan(word, limit, figure)

    def outcome(eighths: list[int | None]) -> str:
        texts = [None if n is None else f"{n}/8 in" for n in eighths]
        done = evaluate(against, record(gaps(*texts), against))
        return str(only(done, "r", LINE).outcome)

    known, whole = outcome(readings), outcome([*filled])
    assert whole in (PASS, FAIL)
    assert known in (OPEN, whole)
    if None not in readings:
        assert known == whole


# strong Kleene logic

# Kleene, Introduction to Metamathematics (1952), section 64, strong tables; recalled.
T, F, U = True, False, None
AND = {(T, T): T, (T, F): F, (T, U): U, (F, T): F, (F, F): F, (F, U): F, (U, T): U, (U, F): F,
       (U, U): U}  # fmt: skip
OR = {(T, T): T, (T, F): T, (T, U): T, (F, T): T, (F, F): F, (F, U): U, (U, T): T, (U, F): U,
      (U, U): U}  # fmt: skip
NOT = {T: F, F: T, U: U}


def test_kleene_tables_are_whole() -> None:
    """The published tables hold every pair of truth values."""
    assert AND.keys() == OR.keys() == set(product((T, F, U), repeat=2))
    assert NOT.keys() == {T, F, U}


@pytest.mark.parametrize("pair", AND)
def test_strong_and(pair: tuple[Truth, Truth]) -> None:
    """`every` is the strong and (Kleene 1952, recalled)."""
    assert every(Judgement(truth) for truth in pair).truth is AND[pair]


@pytest.mark.parametrize("pair", OR)
def test_strong_or(pair: tuple[Truth, Truth]) -> None:
    """`some` is the strong or (Kleene 1952, recalled)."""
    assert some(Judgement(truth) for truth in pair).truth is OR[pair]


@pytest.mark.parametrize("truth", NOT)
def test_strong_not(truth: Truth) -> None:
    """`negation` and `invert` are the strong not (Kleene 1952, recalled)."""
    assert negation(Judgement(truth)).truth is NOT[truth]
    assert invert(truth) is NOT[truth]


def test_of_nothing() -> None:
    """Every of nothing is true, some of nothing is false."""
    assert every(()).truth is True
    assert some(()).truth is False


Tree = Any
TREES = st.recursive(
    st.sampled_from((True, False, None)),
    lambda inner: st.one_of(
        st.tuples(st.just("not"), inner),
        st.tuples(st.just("and"), st.lists(inner, max_size=4)),
        st.tuples(st.just("or"), st.lists(inner, max_size=4)),
    ),
    max_leaves=20,
)


def judged(tree: Tree) -> Judgement:
    """Return a tree's judgement by the engine's own logic."""
    match tree:
        case ("not", part):
            return negation(judged(part))
        case ("and", parts):
            return every(judged(part) for part in parts)
        case ("or", parts):
            return some(judged(part) for part in parts)
        case truth:
            return Judgement(truth)


def rank(tree: Tree) -> int:
    """Return 0, 1 or 2 for false, unknown or true: and is the least, or the greatest of these."""
    match tree:
        case ("not", part):
            return 2 - rank(part)
        case ("and", parts):
            return min([2, *map(rank, parts)])
        case ("or", parts):
            return max([0, *map(rank, parts)])
        case truth:
            return {False: 0, None: 1, True: 2}[truth]


@given(TREES)
def test_trees_agree_with_least_and_greatest(tree: Tree) -> None:
    """Any tree of and, or and not comes to what least, greatest and 2 - x of its ranks say."""
    assert {False: 0, None: 1, True: 2}[judged(tree).truth] == rank(tree)


# what does not compile

REFUSED: list[tuple[str, dict[str, Any], str]] = [
    ("plane.slope", {"at": "line", "limit": {"at_least": "3:12"}}, "a word before"),
    ("each line.length", {"at": "line", "limit": {"at_least": "1 ft"}}, "line.length` alone"),
    ("each station.gap", {"limit": {"at_least": "1 in"}}, "`at:` beside"),
    ("station.setback", {"limit": {"at_least": "1 in"}}, "per side"),
    ("spread line.kind", {"at": "plane", "limit": "1 in"}, "quantity"),
    ("line.kind", {"limit": {"at_least": "hip"}}, "a quantity or a date"),
    ("line.kind", {"limit": "present"}, "yes-or-no"),
    ("line.kind", {"limit": "gable"}, "one of"),
    ("line.length", {"limit": {"at_least": "7:12"}}, "length"),
    ("line.length", {"limit": {"at_least": "line.angle"}}, "length"),
    ("line.length", {"limit": {"at_least": "each plane.deck_thickness"}}, "one value"),
    ("line.length", {"limit": {"at_least": "1 ft", "within": "1 in"}}, "`within`"),
    ("line.length", {"limit": {"same_as": "3 ft"}}, "another fact"),
    ("line.length", {"limit": {"between": ["3 ft", "1 ft"]}}, "lower value first"),
    ("line.lenght", {"limit": {"at_least": "1 ft"}}, "a fact"),
    ("every station.gap", {"at": "line", "limit": {"at_least": "1 ft"}}, "`each`"),
    ("line.length", {"at": "delivery", "limit": {"at_least": "1 ft"}}, "a word before"),
    ("wall.flashed", {"at": "line", "limit": True}, "wall.flashed"),
]


def test_refusals_are_many() -> None:
    """The table of rules that do not compile has not shrunk."""
    assert len(REFUSED) == 18


@pytest.mark.parametrize(("of", "fields", "told"), REFUSED)
def test_what_can_not_be_asked_does_not_compile(of: str, fields: dict[str, Any], told: str) -> None:
    """A rule that makes no sense is a placed problem when it is compiled, never a finding."""
    found = problems(lambda: plan(rulebook(rule("r", of, **fields))))
    assert any(told in str(problem) for problem in found), [str(problem) for problem in found]
    assert all(problem.location.line > 1 for problem in found)

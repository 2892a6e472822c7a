"""Stricter or looser: what is said of a change agrees with what the engine makes of roofs."""

from __future__ import annotations

import json
from itertools import combinations_with_replacement, pairwise, product
from typing import TYPE_CHECKING, Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from ridgerule.audit.permissions import change_words, judged_changes
from ridgerule.audit.regions import MOST_SITUATIONS, TooMany, situations
from ridgerule.audit.strictness import (
    Overlap,
    Strictness,
    can_apply,
    can_be,
    changed_parts,
    compared,
    limits_overlap,
    overlap,
    strictness,
)
from workshop import (
    EVERYTHING,
    amendment,
    audit,
    findings,
    outcomes,
    plan,
    problems,
    rule,
    rulebook,
)

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Iterator

    from ridgerule.audit.permissions import JudgedChange
    from ridgerule.audit.plan import Check

WORDING, STRICTER = Strictness.WORDING, Strictness.STRICTER
LOOSER, DIFFERENT = Strictness.LOOSER, Strictness.DIFFERENT
GAP = "station.gap"
OPPOSITE = {WORDING: WORDING, STRICTER: LOOSER, LOOSER: STRICTER, DIFFERENT: DIFFERENT}
RANKS = {"fail": 0, "not verified": 1, "pass": 2, "not applicable": 2}
"""How good an outcome is: only a failure says that something is wrong, only an open point that
something may be."""
THOROUGH = settings(max_examples=120, deadline=None)
SLOW = settings(max_examples=40, deadline=None)


def book(*rules: dict[str, Any], **fields: Any) -> str:
    """Return a rulebook of these rules."""
    return rulebook(*rules, name="t/pair@1", **fields)


def pair(of: str, before: dict[str, Any], after: dict[str, Any], **fields: Any) -> str:
    """Return a rulebook with the two forms of a rule, `before` and `after`, as rules."""
    forms = {"before": before, "after": after}
    return book(
        *(
            rule(name, of, **{**fields, "limit": form["limit"], **form})
            for name, form in forms.items()
        )
    )


def checks(text: str) -> tuple[Check, ...]:
    """Return the rules of a rulebook, compiled."""
    return plan(text).books[0].editions[0].checks


def two(of: str, before: dict[str, Any], after: dict[str, Any], **fields: Any) -> tuple[Check, ...]:
    """Return the two forms of a rule, compiled."""
    return checks(pair(of, before, after, **fields))


def limits(first: Any, second: Any, of: str = GAP, **fields: Any) -> Strictness:
    """Return what a change of limit does."""
    return compared(*two(of, {"limit": first}, {"limit": second}, **fields))


def summed(pairs: Iterable[tuple[str, str]]) -> Strictness:
    """Return what a change does by the outcomes before and after, roof by roof."""
    moves = {(RANKS[after] > RANKS[before]) - (RANKS[after] < RANKS[before])
             for before, after in pairs}  # fmt: skip
    if 1 in moves:
        return DIFFERENT if -1 in moves else LOOSER
    return STRICTER if -1 in moves else WORDING


def came_out(text: str, roof: dict[str, Any]) -> list[tuple[str, str]]:
    """Return the outcomes of `before` and `after` at every place of a roof."""
    done = audit({"complete": dict.fromkeys(EVERYTHING, "all"), **roof}, text)
    before, after = outcomes(done, "before"), outcomes(done, "after")
    assert before.keys() == after.keys()
    return [(before[place], after[place]) for place in before]


# roofs to try things on

SIDES = {"S": {"faces": "180 deg"}, "E": {"faces": "90 deg"}}
GAPS = [f"{n / 4} in" for n in range(41)]
"""Readings from 0 in to 10 in; the limits tried below have figures of whole inches."""


def line(**facts: Any) -> dict[str, Any]:
    """Return a line between two planes."""
    return {"between": ["S", "E"], **facts}


def stations(*gaps: str) -> list[dict[str, str]]:
    """Return a station for each reading of a gap."""
    return [{"at": f"{n + 1} ft", "gap": gap} for n, gap in enumerate(gaps)]


ALONG = {"planes": SIDES, "lines": {"H1": line(kind="hip", stations=stations(*GAPS))}}
KINDS = ("hip", "ridge", "valley")
LENGTHS = [f"{n / 2} ft" for n in range(11)]
EVERYWHERE = {
    "planes": SIDES,
    "lines": {
        f"L{i}": line(kind=kind, length=length, membrane_width=width)
        for i, (kind, length, width) in enumerate(product(KINDS, LENGTHS, ("1 in", "4 in", "9 in")))
    }
    | {
        f"E{i}": {"kind": kind, "between": ["S"], "length": length, "membrane_width": width}
        for i, (kind, length, width) in enumerate(
            product(("eave", "rake"), LENGTHS, ("1 in", "4 in", "9 in"))
        )
    },
}
WIDTHS = [f"{n / 2} in" for n in range(17)]
CROSSED = {
    "planes": SIDES,
    "lines": {
        f"L{i}": line(kind="hip", membrane_width=width, length=length)
        for i, (width, length) in enumerate(product(WIDTHS, WIDTHS))
    },
}
SLOPES = [f"{n / 2}:12" for n in range(4, 15)]
PAIRED = {
    "planes": {f"P{i}": {"slope": slope} for i, slope in enumerate(SLOPES * 2)},
    "lines": {
        f"L{i}": {"kind": "hip", "between": [f"P{one}", f"P{len(SLOPES) + other}"],
                  "length": length}
        for i, ((one, other), length) in enumerate(
            product(combinations_with_replacement(range(len(SLOPES)), 2), ("4 ft", "6 ft"))
        )
    },
}  # fmt: skip


def test_the_roofs_are_as_large_as_they_are_meant_to_be() -> None:
    """The roofs that everything below is tried on have not shrunk."""
    assert [len(roof["lines"]) for roof in (ALONG, EVERYWHERE, CROSSED, PAIRED)] == [
        1, 165, 289, 132,
    ]  # fmt: skip
    assert len(GAPS) == 41


# limits, conditions and what to draw them from

FIGURES = st.integers(1, 8)


def inches(number: int) -> str:
    """Return a length."""
    return f"{number} in"


def _ranges(figures: st.SearchStrategy[int], written: Callable[[int], str]) -> Any:
    ends = st.tuples(figures, figures).map(sorted)
    return st.one_of(
        figures.map(lambda n: {"at_least": written(n)}),
        figures.map(lambda n: {"at_most": written(n)}),
        ends.map(lambda two: {"between": [written(two[0]), written(two[1])]}),
    )


PLAIN_LIMITS = st.one_of(
    _ranges(FIGURES, inches),
    FIGURES.map(lambda n: {"equal_to": inches(n), "within": "1/2 in"}),
    FIGURES.map(inches),
    st.lists(FIGURES, min_size=1, max_size=3).map(lambda ns: {"one_of": [*map(inches, ns)]}),
    st.lists(FIGURES, min_size=1, max_size=3).map(lambda ns: {"none_of": [*map(inches, ns)]}),
)
LIMITS = st.recursive(
    PLAIN_LIMITS,
    lambda inner: st.one_of(
        inner.map(lambda limit: {"not": limit}),
        st.lists(inner, min_size=1, max_size=3).map(lambda parts: {"any_of": parts}),
        st.lists(inner, min_size=1, max_size=3).map(lambda parts: {"all_of": parts}),
    ),
    max_leaves=4,
)
CONDITIONS = st.recursive(
    st.one_of(
        st.lists(st.sampled_from(KINDS), min_size=1, max_size=2, unique=True).map(
            lambda kinds: {"line.kind": {"one_of": kinds}}
        ),
        _ranges(st.integers(1, 4), lambda n: f"{n} ft").map(lambda limit: {"line.length": limit}),
    ),
    lambda inner: st.one_of(
        inner.map(lambda condition: {"not": condition}),
        st.lists(inner, min_size=1, max_size=2).map(lambda parts: {"any_of": parts}),
        st.lists(inner, min_size=1, max_size=2).map(lambda parts: {"all_of": parts}),
    ),
    max_leaves=3,
)


# limits on one fact


@THOROUGH
@given(LIMITS, LIMITS)
def test_a_change_of_limit_is_what_every_reading_makes_of_it(first: Any, second: Any) -> None:
    """Stricter, looser, different or wording: as readings from 0 in to 10 in come out."""
    text = pair(GAP, {"limit": first}, {"limit": second})
    assert compared(*checks(text)) is summed(came_out(text, ALONG))


@THOROUGH
@given(LIMITS, LIMITS)
def test_the_way_back_is_the_opposite(first: Any, second: Any) -> None:
    """What a change does is undone by changing back: stricter there is looser here."""
    before, after = two(GAP, {"limit": first}, {"limit": second})
    assert compared(after, before) is OPPOSITE[compared(before, after)]


@SLOW
@given(LIMITS, CONDITIONS)
def test_what_is_not_changed_is_wording(limit: Any, when: Any) -> None:
    """A rule beside itself has no part that differs, whatever it asks and wherever it applies."""
    form = {"limit": limit, "when": when}
    before, after = two(GAP, form, form)
    assert changed_parts(before, after) == ()
    assert compared(before, after) is WORDING


@SLOW
@given(st.lists(LIMITS, min_size=3, max_size=3))
def test_stricter_upon_stricter_is_stricter(three: list[Any]) -> None:
    """Where two changes each make nothing better, the two together make nothing better."""
    first, second, third = checks(
        book(*(rule(f"r{i}", GAP, limit) for i, limit in enumerate(three)))
    )
    steps = (compared(first, second), compared(second, third))
    whole = compared(first, third)
    if not any(step.may_loosen for step in steps):
        assert not whole.may_loosen
        assert (whole is STRICTER) == (STRICTER in steps)
    if all(step in (LOOSER, WORDING) for step in steps):
        assert (whole is LOOSER) == (LOOSER in steps)


@SLOW
@given(LIMITS, LIMITS)
def test_how_two_limits_lie_is_what_every_reading_says(first: Any, second: Any) -> None:
    """Met by both, by one alone, by the other alone: as readings from 0 in to 10 in come out."""
    text = pair(GAP, {"limit": first}, {"limit": second})
    before, after = checks(text)
    came = came_out(text, ALONG)
    seen = [(one, other) in came for one, other in (("pass", "pass"), ("pass", "fail"),
                                                    ("fail", "pass"))]  # fmt: skip
    assert limits_overlap(before.of, before.limit, after.limit) == Overlap(*seen)
    assert overlap(before, after) == Overlap(*seen)
    for check, at in ((before, 0), (after, 1)):
        assert can_be(check, truth=True) == any(both[at] == "pass" for both in came)
        assert can_be(check, truth=False) == any(both[at] == "fail" for both in came)


EXAMPLES = [
    # before, after, the fact, what the change does
    ({"at_least": "8 in"}, {"at_least": "9 in"}, GAP, STRICTER),
    ({"at_least": "8 in"}, {"at_least": "203.2 mm"}, GAP, WORDING),
    ({"at_least": "8 in"}, {"not": {"at_most": "8 in"}}, GAP, STRICTER),
    ({"at_most": "8 in"}, {"not": {"at_least": "8 in"}}, GAP, STRICTER),
    ({"at_least": "8 in"}, {"at_most": "8 in"}, GAP, DIFFERENT),
    ({"at_least": "8 in"}, {"between": ["8 in", "36 in"]}, GAP, WORDING),  # no gap is wider
    ({"at_least": "8 in"}, {"between": ["8 in", "35 in"]}, GAP, STRICTER),
    ({"between": ["7 in", "9 in"]}, {"equal_to": "8 in", "within": "1 in"}, GAP, WORDING),
    ({"equal_to": "8 in", "within": "1 in"}, {"equal_to": "8 in", "within": "2 in"}, GAP, LOOSER),
    ({"one_of": ["plywood", "boards"]}, {"one_of": ["plywood"]}, "plane.deck", STRICTER),
    ({"one_of": ["plywood"]}, "plywood", "plane.deck", WORDING),
    (
        {"none_of": ["steel", "concrete"]},
        {"one_of": ["plywood", "oriented strand board", "boards", "planks"]},
        "plane.deck",
        WORDING,
    ),
    ({"none_of": ["steel"]}, {"none_of": ["steel", "concrete"]}, "plane.deck", STRICTER),
    ("present", True, "line.membrane", WORDING),
    ("present", "absent", "line.membrane", DIFFERENT),
    ({"at_least": "2026-01-02"}, {"not": {"at_most": "2026-01-01"}}, "roof.permit_date", WORDING),
    ({"at_least": "2026-01-02"}, {"at_least": "2026-02-01"}, "roof.permit_date", STRICTER),
    (
        {"same_as": "roof.permit_date", "within": "60 days"},
        {"same_as": "roof.permit_date", "within": "30 days"},
        "roof.installation_date",
        STRICTER,
    ),
    (
        {"equal_to": "2026-03-01", "within": "2 days"},
        {"between": ["2026-02-27", "2026-03-03"]},
        "roof.installation_date",
        WORDING,
    ),
    ({"at_most": "2"}, {"not": {"at_least": "3"}}, "delivery.caps", WORDING),  # caps are whole
    ({"at_least": "0 ft"}, {"at_most": "1000 ft"}, "line.length", WORDING),  # every length there is
    ({"at_least": "6:12"}, {"at_least": "30 deg"}, "plane.slope", STRICTER),  # 6:12 is 26.57 deg
    ({"at_least": "7:12"}, {"at_least": "30 deg"}, "plane.slope", LOOSER),  # 7:12 is 30.26 deg
    ({"at_least": "12:12"}, {"at_least": "45 deg"}, "plane.slope", WORDING),  # the same exactly
    ({"nearest_of": {"to": "line.angle", "values": ["90 deg", "120 deg"]}},
     {"nearest_of": {"to": "line.angle", "values": ["90 deg", "120 deg", "160 deg"]}},
     "line.cap_profile", DIFFERENT),
    ("Tarn", {"one_of": ["Tarn", "Weir"]}, "roof.place", LOOSER),
    # A strip is at most 10 ft wide and a line 1000 ft long: above 1 in they can still be the same.
    ({"at_most": "1 in"}, {"same_as": "line.length"}, "line.membrane_width", DIFFERENT),
]  # fmt: skip


def test_examples_are_many() -> None:
    """The table of limits has not shrunk."""
    assert len(EXAMPLES) == 27


@pytest.mark.parametrize(("before", "after", "of", "expected"), EXAMPLES)
def test_what_a_change_of_limit_does(before: Any, after: Any, of: str, expected: Any) -> None:
    """Limits are ordered by the values that meet them, however they are written."""
    assert limits(before, after, of) is expected
    assert limits(after, before, of) is OPPOSITE[expected]


# limits that name other facts, and tables

OF_WIDTH = "line.membrane_width"
AGAINST = st.one_of(
    st.sampled_from(
        [
            {"at_least": "line.length"},
            {"at_most": "line.length"},
            {"not": {"at_most": "line.length"}},
            {"same_as": "line.length"},
            {"equal_to": "4 in"},
            {"between": ["2 in", "line.length"]},
        ]
    ),
    st.integers(1, 3).map(lambda n: {"same_as": "line.length", "within": inches(n)}),
    _ranges(st.integers(1, 5), inches),
)


@SLOW
@given(AGAINST, AGAINST)
def test_a_limit_that_names_a_fact_is_held_against_all_its_values(first: Any, second: Any) -> None:
    """A change between limits by another fact is what every pair of values makes of it."""
    text = pair(OF_WIDTH, {"limit": first}, {"limit": second})
    assert compared(*checks(text)) is summed(came_out(text, CROSSED))


def _rows(parts: tuple[int, int, Any, Any]) -> Any:
    one, other, low, high = parts
    rows = [
        {"for": {"at_most": f"{min(one, other)} ft"}, "limit": low},
        {"for": {"not": {"at_most": f"{max(one, other)} ft"}}, "limit": high},
    ]
    return {"table": {"by": "line.length", "rows": rows}}


TABLES = st.tuples(
    st.integers(1, 4), st.integers(1, 4), _ranges(FIGURES, inches), _ranges(FIGURES, inches)
).map(_rows)


@SLOW
@given(st.one_of(TABLES, PLAIN_LIMITS), TABLES)
def test_a_table_is_held_row_by_row_and_in_its_gaps(first: Any, second: Any) -> None:
    """A change of a table is what every length and every gap makes of it, between rows as well."""
    text = pair(GAP, {"limit": first}, {"limit": second})
    lines = {
        f"L{i}": line(kind="hip", length=length, stations=stations(*GAPS))
        for i, length in enumerate(LENGTHS)
    }
    assert compared(*checks(text)) is summed(came_out(text, {"planes": SIDES, "lines": lines}))


# where a rule applies


@SLOW
@given(CONDITIONS, CONDITIONS)
def test_a_change_of_condition_is_what_every_line_makes_of_it(first: Any, second: Any) -> None:
    """A narrower `when` is looser, a wider one stricter: as every kind and length comes out."""
    limit = {"at_least": "3 in"}
    text = pair(OF_WIDTH, {"limit": limit, "when": first}, {"limit": limit, "when": second})
    before, after = checks(text)
    assert compared(before, after) is summed(came_out(text, EVERYWHERE))
    assert compared(after, before) is OPPOSITE[compared(before, after)]


@SLOW
@given(CONDITIONS, CONDITIONS, _ranges(FIGURES, inches), _ranges(FIGURES, inches))
def test_no_change_makes_better_what_it_is_not_told_to(
    first: Any, second: Any, one: Any, other: Any
) -> None:
    """Where limit and condition both change, nothing better goes untold, and nothing worse."""
    text = pair(OF_WIDTH, {"limit": one, "when": first}, {"limit": other, "when": second})
    before, after = checks(text)
    came = summed(came_out(text, EVERYWHERE))
    told = compared(before, after)
    assert told.may_loosen or not came.may_loosen
    if came in (STRICTER, DIFFERENT):
        assert told in (STRICTER, DIFFERENT)


@SLOW
@given(CONDITIONS)
def test_whether_a_rule_can_apply_is_what_every_line_says(when: Any) -> None:
    """A rule applies somewhere just where some line of any kind and length comes under it."""
    limit = {"at_least": "3 in"}
    text = pair(OF_WIDTH, {"limit": limit, "when": when}, {"limit": limit})
    (before, _), came = checks(text), came_out(text, EVERYWHERE)
    assert can_apply(before) == any(outcome != "not applicable" for outcome, _ in came)


def _asked_of_slopes(word: str) -> Any:
    return _ranges(st.integers(3, 6), lambda n: f"{n}:12").map(
        lambda limit: {f"{word} plane.slope": limit}
    )


OVER_MANY = st.sampled_from(("each", "any", "least", "greatest")).flatmap(_asked_of_slopes)


@SLOW
@given(OVER_MANY, OVER_MANY)
def test_words_for_one_over_many_are_told_apart(first: Any, second: Any) -> None:
    """Conditions on each, any, the least or the greatest slope are what all pairs make of them."""
    limit = {"at_least": "5 ft"}
    text = pair("line.length", {"limit": limit, "when": first}, {"limit": limit, "when": second})
    came, told = summed(came_out(text, PAIRED)), compared(*checks(text))
    assert told.may_loosen or not came.may_loosen
    if came in (STRICTER, DIFFERENT):
        assert told in (STRICTER, DIFFERENT)
    words = {next(iter(condition)).split()[0] for condition in (first, second)}
    if len(words) == 1 or words in ({"each", "any"}, {"least", "greatest"}):
        assert told is came


WHENS = [
    # before, after, what the change does, at which element
    ({"line.kind": {"one_of": ["hip", "ridge"]}}, {"line.kind": "hip"}, LOOSER),
    ({"line.kind": "hip"}, {"line.kind": "hip", "line.vented": False}, LOOSER),
    ({"line.kind": "hip"}, {"line.kind": "ridge"}, DIFFERENT),
    ({"line.kind": "hip"}, {"not": {"line.kind": {"none_of": ["hip"]}}}, WORDING),
    ({"line.kind": "hip"}, {"any_of": [{"line.kind": "hip"}, {"line.vented": True}]}, STRICTER),
    (None, {"line.kind": "hip"}, LOOSER),
    (None, {"line.kind": {"one_of": ["hip", "ridge", "valley", "eave", "rake"]}}, WORDING),
    (
        {"all_of": [{"line.kind": "hip"}, {"line.kind": "ridge"}]},
        {"line.length": {"at_least": "1001 ft"}},
        WORDING,  # neither applies to anything
    ),
    ({"count station.gap": {"at_least": 2}}, {"count station.gap": {"at_least": 3}}, LOOSER),
    ({"count station.gap": {"at_least": 2}}, {"not": {"count station.gap": 1}}, STRICTER),
]


@pytest.mark.parametrize(("before", "after", "expected"), WHENS)
def test_what_a_change_of_condition_does(before: Any, after: Any, expected: Any) -> None:
    """Where a rule no longer applies it can't fail, so a narrower `when` is looser."""
    forms = [
        {"limit": {"at_least": "5 ft"}, **({} if when is None else {"when": when})}
        for when in (before, after)
    ]
    found = compared(*two("line.length", *forms))
    assert found is expected
    assert compared(*two("line.length", *reversed(forms))) is OPPOSITE[expected]


def test_a_limit_is_compared_where_the_rule_applied_and_still_does() -> None:
    """What a rule asks of the ridges it is newly asked of is no loosening of what it asked of hips.

    Hips keep their 8 in or get 9 in; the 6 in for ridges, of which nothing was asked before, is
    more than nothing.
    """
    rows = [{"for": "hip", "limit": {"at_least": "9 in"}},
            {"for": "ridge", "limit": {"at_least": "6 in"}}]  # fmt: skip
    before = {"when": {"line.kind": "hip"}, "limit": {"at_least": "8 in"}}
    wider = {"line.kind": {"one_of": ["hip", "ridge"]}}
    after = {"when": wider, "limit": {"table": {"by": "line.kind", "rows": rows}}}
    found = changed_parts(*two(OF_WIDTH, before, after))
    assert {part.field: part.strictness for part in found} == {"when": STRICTER, "limit": STRICTER}
    back = changed_parts(*two(OF_WIDTH, after, before))
    assert {part.field: part.strictness for part in back} == {"when": LOOSER, "limit": LOOSER}


def test_a_roof_without_any_opening_is_a_kind_of_roof() -> None:
    """Each of no openings is a skylight, and any of none is not: the two differ even so."""
    forms = [
        {"limit": {"at_least": "4:12"}, "when": {f"{word} opening.kind": "skylight"}}
        for word in ("each", "any")
    ]
    assert compared(*two("plane.slope", *forms)) is DIFFERENT
    # A line has its two planes, so that there each is never of nothing.
    lines = [
        {"limit": {"at_least": "4 ft"}, "when": {f"{word} plane.deck": "plywood"}}
        for word in ("each", "any")
    ]
    assert compared(*two("line.length", *lines)) is STRICTER


# evidence, stations, class and scope

MORE: list[tuple[dict[str, Any], dict[str, Any], Strictness]] = [
    # before, after, what the change does
    ({"class_": "major"}, {"class_": "critical"}, STRICTER),
    ({"class_": "major"}, {"class_": "minor"}, LOOSER),
    ({}, {"evidence": {"how": ["measured"]}}, STRICTER),
    ({}, {"evidence": {"photo": True}}, STRICTER),
    ({"evidence": {"how": ["measured", "seen"]}}, {"evidence": {"how": ["measured"]}}, STRICTER),
    ({"evidence": {"how": ["measured"]}}, {"evidence": {"how": ["seen"]}}, DIFFERENT),
    ({"evidence": {"how": ["measured"]}}, {"evidence": {"photo": True}}, DIFFERENT),
    (
        {"evidence": {"how": ["measured"]}},
        {"evidence": {"how": ["measured", "seen"], "photo": True}},
        DIFFERENT,
    ),
    (
        {"evidence": {"how": ["measured"], "photo": False}},
        {"evidence": {"how": ["measured"]}},
        WORDING,
    ),
    ({}, {"stations": {"at_least": 2}}, STRICTER),
    ({"stations": {"at_least": 3}}, {"stations": {"at_least": 2}}, LOOSER),
    ({"stations": {"one_per": "6 ft"}}, {"stations": {"one_per": "4 ft"}}, STRICTER),
    ({"stations": {"at_least": 3}}, {"stations": {"one_per": "6 ft"}}, DIFFERENT),
    ({"stations": {"one_per": "6 ft"}}, {"stations": {"at_least": 2, "one_per": "6 ft"}}, STRICTER),
    ({"stations": {"one_per": "72 in"}}, {"stations": {"one_per": "6 ft"}}, WORDING),
    ({}, {"scope": {"covering": "composite slate"}}, LOOSER),
    (
        {"scope": {"covering": "composite slate"}},
        {"scope": {"covering": {"one_of": ["composite slate", "natural slate"]}}},
        STRICTER,
    ),
    ({"scope": {"covering": "clay tile"}}, {"scope": {"covering": "wood shake"}}, DIFFERENT),
    ({"title": "One"}, {"title": "Another", "why": "else", "remedy": "another"}, WORDING),
    ({"aim": {"equal_to": "4 in"}}, {"aim": {"equal_to": "5 in"}}, WORDING),  # never decides
    ({"class_": "minor"}, {"class_": "major", "stations": {"at_least": 2}}, STRICTER),
    ({"class_": "minor", "stations": {"at_least": 2}}, {"class_": "major"}, DIFFERENT),
]


def test_other_parts_are_many() -> None:
    """The tables of what is no limit have not shrunk."""
    assert (len(MORE), len(WHENS)) == (22, 10)


@pytest.mark.parametrize(("before", "after", "expected"), MORE)
def test_what_a_change_of_another_part_does(before: Any, after: Any, expected: Any) -> None:
    """Class, evidence, stations and scope are each ordered, and summed with one another."""
    shared = {"limit": {"at_least": "3 in"}, "when": {"line.kind": "hip"}}
    forms = [{**shared, **form} for form in (before, after)]
    found = changed_parts(*two(GAP, *forms))
    assert strictness(found) is expected
    assert compared(*two(GAP, *reversed(forms))) is OPPOSITE[expected]
    names = {name.rstrip("_") for form in (before, after) for name in form}
    assert {part.field for part in found} <= names


EVIDENCE = st.lists(st.sampled_from(["measured", "seen", "cap lifted", "document"]),
                    min_size=1, max_size=3, unique=True)  # fmt: skip


@SLOW
@given(EVIDENCE, EVIDENCE, st.booleans(), st.booleans())
def test_stricter_evidence_never_shows_anew(
    first: list[str], second: list[str], photo: bool, other_photo: bool
) -> None:
    """Where evidence gets no looser, no reading counts that did not count before."""
    hows = ("measured", "seen", "cap lifted", "document")
    readings = [
        {"value": "4 in", "how": how, **({"photo": "a.jpg"} if shown else {})}
        for how in hows
        for shown in (True, False)
    ]
    lines = {
        f"L{i}": line(kind="hip", membrane_width=reading) for i, reading in enumerate(readings)
    }
    limit = {"at_least": "3 in"}
    forms = [
        {"limit": limit, "evidence": {"how": how, "photo": shown}}
        for how, shown in ((first, photo), (second, other_photo))
    ]
    text = pair(OF_WIDTH, *forms)
    assert compared(*checks(text)) is summed(came_out(text, {"planes": SIDES, "lines": lines}))


@SLOW
@given(st.integers(1, 4), st.integers(1, 4), st.sampled_from([None, 1, 2, 3]),
       st.sampled_from([None, 1, 2, 3]))  # fmt: skip
def test_more_stations_are_asked_where_it_is_stricter(
    least: int, other: int, per: int | None, other_per: int | None
) -> None:
    """Where nothing got looser, no line is read well enough that was not so before."""
    demands = [
        {"at_least": number, **({"one_per": f"{feet} ft"} if feet else {})}
        for number, feet in ((least, per), (other, other_per))
    ]
    forms = [{"limit": {"at_least": "3 in"}, "stations": demand} for demand in demands]
    text = book(rule("before", GAP, **forms[0]), rule("after", GAP, **forms[1]))
    lines = {
        f"L{i}": line(kind="hip", length=f"{length} ft", stations=stations(*["4 in"] * read))
        for i, (length, read) in enumerate(product(range(1, 17), range(1, 7)))
    }
    roof = {"complete": dict.fromkeys(EVERYTHING, "all"), "planes": SIDES, "lines": lines}
    done = audit(roof, text)
    short = {
        name: {f.place.id for f in findings(done, name) if "stations read" in f.reason}
        for name in ("before", "after")
    }
    came = [
        (_open_if(line_id in short["before"]), _open_if(line_id in short["after"]))
        for line_id in lines
    ]
    assert compared(*checks(text)) is summed(came)


def _open_if(is_short: bool) -> str:
    return "not verified" if is_short else "pass"


# figures at the edge of what can be told


def test_facts_with_a_range_of_their_own_are_tried_inside_it() -> None:
    """A tolerance beside a fact that starts at 1 in is widened by 1/8 in: some pairs now pass."""
    facts = {
        f"line.{name}": {"dimension": "length", "measure": "a test", "least": "1 in",
                         "greatest": "20 in"}
        for name in ("one", "other")
    }  # fmt: skip
    forms = [
        rule(f"r{i}", "line.one", {"same_as": "line.other", "within": within})
        for i, within in enumerate(("1/8 in", "1/4 in"))
    ]
    assert compared(*checks(book(*forms, facts=facts))) is LOOSER


def test_three_that_must_be_met_by_any_can_be() -> None:
    """A roof has room for a plane of each kind: three conditions by `any` exclude nothing."""
    when = {"all_of": [{"any plane.deck": deck} for deck in ("plywood", "boards", "steel")]}
    (check,) = checks(book(rule("r", "roof.ice_dams", "absent", when=when)))
    assert can_apply(check)
    (other,) = checks(
        book(rule("r", "roof.ice_dams", "absent", when={**when, "each plane.deck": "steel"}))
    )
    assert not can_apply(other)


def test_a_computed_count_need_not_be_whole() -> None:
    """A mean or a ratio lies between whole numbers, where `at most 2` and `under 3` differ."""
    ratio = {"line.lengths": {"dimension": "count", "measure": "a test",
                              "ratio": ["line.length", "line.membrane_width"]}}  # fmt: skip
    forms = [
        rule(f"r{i}", "line.lengths", limit)
        for i, limit in enumerate(({"at_most": "2"}, {"not": {"at_least": "3"}}))
    ]
    assert compared(*checks(book(*forms, derive=ratio))) is LOOSER
    assert limits({"at_most": "2"}, {"not": {"at_least": "3"}}, "delivery.caps") is WORDING


def test_choices_of_two_facts_can_be_the_same() -> None:
    """Two facts with choices in common can agree, and can differ."""
    facts = {
        "line.one": {"dimension": "choice", "measure": "a test", "choices": ["a", "b", "c"]},
        "line.other": {"dimension": "choice", "measure": "a test", "choices": ["c", "d"]},
    }
    (check,) = checks(book(rule("r", "line.one", {"same_as": "line.other"}), facts=facts))
    assert can_be(check, truth=True)
    assert can_be(check, truth=False)


def test_the_least_of_readings_is_not_above_the_greatest() -> None:
    """Two rules, one for lines flatter throughout and one for steeper, never meet at a line."""
    flat, steep = (
        rule(name, "line.length", {"at_least": length}, when=when)
        for name, length, when in (
            ("flat", "9 ft", {"greatest plane.slope": {"at_most": "4:12"}}),
            ("steep", "2 ft", {"least plane.slope": {"at_least": "8:12"}}),
        )
    )
    assert overlap(*checks(book(flat, steep))) is None


def test_days_before_the_first_there_is_are_no_fault_of_ours() -> None:
    """A tolerance of more days than there are dates is not compared, and raises nothing."""
    wide = {"equal_to": "2026-01-01", "within": "4000000 days"}
    assert limits(wide, {"equal_to": "2026-01-01"}, "roof.permit_date") is DIFFERENT


def test_rules_that_tell_too_many_roofs_apart_are_not_compared() -> None:
    """Beyond a number of kinds of roof nobody says wording: a change has to be permitted."""
    whens = [
        {f"any {fact}": {"between": [f"{n} in", f"{n + 3} in"]}
         for fact in ("station.gap", "station.setback", "station.cap_exposure")}
        for n in (2, 3)
    ]  # fmt: skip
    forms = [{"limit": {"at_least": "5 ft"}, "when": when} for when in whens]
    before, after = two("line.length", *forms)
    asked = [(part.fact, part.limit) for check in (before, after) for part in _parts(check)]
    with pytest.raises(TooMany):
        sum(1 for _ in situations(asked))
    assert compared(before, after) is DIFFERENT
    assert can_apply(before)
    assert MOST_SITUATIONS == 20_000


def _parts(check: Check) -> Iterator[Any]:
    """Yield the parts that a condition joins by and."""
    assert check.when is not None
    yield from check.when.parts  # type: ignore[union-attr]


# chains of rulebooks, and who permits what


def base(**fields: Any) -> str:
    """Return a base with one rule on the width of a strip."""
    more = {"when": {"line.kind": {"one_of": ["hip", "ridge"]}}, **fields}
    return rulebook(rule("strip", OF_WIDTH, {"at_least": "8 in"}, **more), name="t/base@1")


def child(
    *changes: dict[str, Any], on: str = "t/base@1", name: str = "t/child@1", **more: Any
) -> str:
    """Return a rulebook that changes its base."""
    return rulebook(name=name, based_on=[on], amendments=list(changes), **more)


def judged(*texts: str) -> JudgedChange:
    """Return the one change that the first rulebook makes, judged."""
    edition = plan(*texts).books[0].editions[0]
    (only,) = judged_changes(edition.adapted, edition.vocabulary)
    return only


def refused(*texts: str) -> list[tuple[str, str]]:
    """Return what was expected and found of a rulebook that is refused."""
    return [(told.expected, told.found) for told in problems(lambda: plan(*texts))]


def wider(width: str, **more: Any) -> dict[str, Any]:
    """Return an amendment of the strip's width."""
    return amendment("strip", limit={"at_least": width}, **more)


def test_a_change_is_judged_against_its_base_and_against_the_first_form() -> None:
    """Stricter, then looser by permission: looser than the parent and stricter than the root."""
    middle = child(wider("12 in"))
    top = child(wider("10 in", permitted_by="x"), on="t/child@1", name="t/top@1")
    found = judged(top, middle, base())
    assert (found.strictness, found.against_root) == (LOOSER, STRICTER)
    assert judged(middle, base()).against_root is STRICTER
    back = child(wider("8 in", permitted_by="x"), on="t/child@1", name="t/top@1")
    assert judged(back, middle, base()).against_root is WORDING


def test_a_grandchild_needs_permission_as_well() -> None:
    """What a child tightened a grandchild may not ease on its own, though the root asks less."""
    middle = child(wider("12 in"))
    top = child(wider("10 in"), on="t/child@1", name="t/top@1")
    ((expected, found),) = refused(top, middle, base())
    assert expected == "`permitted_by` beside a change that makes `t/base#strip` looser"
    assert found == "`limit` looser: `at least 12 in` before, `at least 10 in` now"


@pytest.mark.parametrize("permit", [{}, {"permitted_by": "anyone"}])
def test_what_may_not_be_loosened_binds_the_whole_chain(permit: dict[str, str]) -> None:
    """No child and no grandchild loosens it, whoever permits that; stricter is free."""
    fixed = base(may_be_loosened=False)
    for width, on, more in (
        ("7 in", "t/base@1", ()),
        ("10 in", "t/child@1", (child(wider("12 in")),)),
    ):
        top = child(wider(width, **permit), on=on, name="t/top@1")
        ((expected, _),) = refused(top, *more, fixed)
        assert expected.startswith("no looser form of `t/base#strip`")
    gone = {"withdrawals": [amendment("strip", permitted_by="anyone")]}
    ((_, found),) = refused(child(**gone), fixed)
    assert found == "a withdrawal"
    assert judged(child(wider("9 in")), fixed).strictness is STRICTER


def test_a_withdrawal_is_looser_and_needs_its_permission() -> None:
    """A rule that is gone can't fail; with a permission it may go."""
    gone = child(withdrawals=[amendment("strip", permitted_by="Tarn County, letter 3")])
    found = judged(gone, base())
    assert (found.after, found.strictness, change_words(found)) == (None, LOOSER, "a withdrawal")


def test_a_rulebooks_own_scope_loosens_nothing() -> None:
    """A rulebook for one covering leaves the other roofs to its base."""
    text = child(wider("9 in"), scope={"covering": "composite slate"})
    found = judged(text, base())
    assert [part.field for part in found.parts] == ["limit"]
    assert found.strictness is STRICTER
    narrower = amendment("strip", scope={"covering": "composite slate"})
    ((_, told),) = refused(child(narrower), base())
    assert told == "`scope` looser: `any roof` before, `roof.covering is composite slate` now"


def test_every_loosening_of_a_file_is_told() -> None:
    """Two changes that nobody permits are two problems, each in its place."""
    two_rules = rulebook(
        rule("strip", OF_WIDTH, {"at_least": "8 in"}),
        rule("long", "line.length", {"at_least": "8 in"}),
        name="t/base@1",
    )
    text = child(wider("7 in"), amendment("long", class_="minor"))
    told = problems(lambda: plan(text, two_rules))
    assert len(told) == 2
    assert told[0].location < told[1].location


UNDERCUTS = [
    # a new rule beside `strip` (8 in on hips and ridges), and whether it undercuts that
    ({"limit": {"at_least": "6 in"}}, True),
    ({"limit": {"at_least": "6 in"}, "when": {"line.kind": "hip"}}, True),
    ({"limit": {"at_least": "6 in"}, "when": {"line.kind": "valley"}}, False),
    ({"limit": {"at_least": "8 in"}}, False),
    ({"limit": {"at_least": "9 in"}}, False),
    ({"limit": {"at_most": "20 in"}}, False),
    ({"limit": {"between": ["6 in", "20 in"]}}, False),
    ({"limit": {"any_of": [{"at_least": "8 in"}, "5 in"]}}, True),
    ({"limit": {"at_least": "6 in"}, "scope": {"covering": "clay tile"}}, True),
    ({"limit": {"at_least": "6 in"}, "of": "line.length"}, False),
    ({"limit": {"at_least": "6 in"}, "of": "least line.membrane_width", "at": "roof"}, False),
]


@pytest.mark.parametrize(("fields", "undercuts"), UNDERCUTS)
def test_a_new_rule_may_not_undercut_a_bases(fields: dict[str, Any], undercuts: bool) -> None:
    """A new rule that takes in more than a base's on one fact, where both apply, is refused."""
    own = rule("own", OF_WIDTH, fields["limit"]) | fields
    text = rulebook(own, name="t/child@1", based_on=["t/base@1"])
    if not undercuts:
        assert len(plan(text, base()).books[0].editions[0].checks) == 2
        return
    ((expected, found),) = refused(text, base())
    assert expected == "a limit no looser than `t/base#strip`, at least 8 in"
    assert found.startswith("`own`, ")


def test_rules_on_stations_of_planes_and_of_lines_never_meet() -> None:
    """A lower figure for spots on planes undercuts none for spots on hips."""
    on_lines = rulebook(
        rule("hips", "station.fasteners", {"at_least": "2"}, on="line"), name="t/base@1"
    )
    on_planes = rule("field", "station.fasteners", {"at_least": "1"}, on="plane")
    text = rulebook(on_planes, name="t/child@1", based_on=["t/base@1"])
    assert len(plan(text, on_lines).books[0].editions[0].checks) == 2
    beside = rulebook(on_planes | {"on": "line"}, name="t/child@1", based_on=["t/base@1"])
    assert len(refused(beside, on_lines)) == 1


def test_rules_that_apply_by_different_computed_facts_are_left_alone() -> None:
    """Whether two computed conditions ever hold together no one can tell, so nothing is refused."""
    whens = ({"line.included_angle": {"at_least": "150 deg"}},
             {"least plane.slope": {"at_least": "12:12"}})  # fmt: skip
    lower = rule("own", OF_WIDTH, {"at_least": "6 in"}, when=whens[1])
    text = rulebook(lower, name="t/child@1", based_on=["t/base@1"])
    assert len(plan(text, base(when=whens[0])).books[0].editions[0].checks) == 2
    same = rulebook(lower | {"when": whens[0]}, name="t/child@1", based_on=["t/base@1"])
    assert len(refused(same, base(when=whens[0]))) == 1


def test_what_a_change_did_is_told_part_by_part() -> None:
    """Every part that decides is told with what it said before and what it says now."""
    first = base(evidence={"how": ["cap lifted"], "photo": True}, class_="critical")
    change = amendment(
        "strip", permitted_by="x", limit={"at_least": "9 in"}, class_="major",
        when={"line.kind": "hip"}, evidence={"how": ["cap lifted", "seen"]},
        scope={"covering": "clay tile"},
    )  # fmt: skip
    assert change_words(judged(child(change), first)) == (
        "`scope` looser: `any roof` before, `roof.covering is clay tile` now; "
        "`when` looser: `line.kind is hip or ridge` before, `line.kind is hip` now; "
        "`limit` stricter: `at least 8 in` before, `at least 9 in` now; "
        "`class` looser: `critical` before, `major` now; "
        "`evidence` looser: `cap lifted, with a photo` before, `seen or cap lifted` now"
    )


@SLOW
@given(st.lists(PLAIN_LIMITS, min_size=2, max_size=3))
def test_a_chain_loads_just_where_no_reading_gets_better(chain: list[Any]) -> None:
    """Rulebooks upon rulebooks load unpermitted just where no step makes any reading better."""
    names = [f"t/b{i}@1" for i in range(len(chain))]
    texts = [rulebook(rule("strip", GAP, chain[0]), name=names[0])]
    for i, limit in enumerate(chain[1:], 1):
        texts.append(child(amendment("strip", limit=limit), on=names[i - 1], name=names[i]))
    loosened = False
    for first, second in pairwise(chain):
        text = pair(GAP, {"limit": first}, {"limit": second})
        loosened = loosened or summed(came_out(text, ALONG)).may_loosen
    if loosened:
        told = refused(*reversed(texts))
        assert all(expected.startswith("`permitted_by` beside") for expected, _ in told)
    else:
        assert len(plan(*reversed(texts)).books[0].editions[0].checks) == 1


def test_the_data_of_a_change_is_plain() -> None:
    """The rulebooks tried here are text that a firm could have written."""
    assert json.loads(base())["rules"][0]["limit"] == {"at_least": "8 in"}

"""Sides that a rule's cases leave unproved: each kind is named, and offered a case that shows it.

Every rulebook here is invented and no figure in it means anything.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import pytest

from ridgerule.proof.proving import Depth, prove
from ridgerule.reports.case_text import case_text
from workshop import plan, problems, rule, rulebook

if TYPE_CHECKING:
    from ridgerule.proof.proving import RuleProof
    from ridgerule.proof.unproved import Unproved

PASS, FAIL, OPEN, APART = "pass", "fail", "not verified", "not applicable"


def case(expect: str, **given: object) -> dict[str, Any]:
    """Return a case; `__` stands for the dot of a fact's name."""
    return {"given": {k.replace("__", "."): v for k, v in given.items()}, "expect": expect}


def proved(one: dict[str, Any], **fields: object) -> RuleProof:
    """Return the proof of the one rule of a rulebook."""
    (proof,) = prove(plan(rulebook(one, **fields)).books[0].editions[0], Depth()).rules
    return proof


def lacking(of: str, limit: object, *cases: dict[str, Any], **fields: object) -> list[Unproved]:
    """Return the errors that a rule with these cases is told of."""
    found = proved(rule("r", of, limit, cases=list(cases), **fields))
    assert not found.surprises
    return list(found.open)


def words(*args: Any, **fields: Any) -> list[str]:
    """Return the words of the errors that a rule with these cases is told of."""
    return [one.words for one in lacking(*args, **fields)]


LENGTH = "line.length is"
FULL = [case(PASS, line__length="3 in"), case(FAIL, line__length="2 15/16 in")]


def test_a_figure_shown_on_both_sides_is_proved() -> None:
    """A case on the figure that passes and one a step under that fails leave nothing open."""
    assert words("line.length", {"at_least": "3 in"}, *FULL) == []


def test_a_pass_a_step_inside_is_near_enough() -> None:
    """A case that passes one step over the figure shows its inner side, one further off doesn't."""
    near = [case(PASS, line__length="3 1/16 in"), FULL[1]]
    far = [case(PASS, line__length="3 1/8 in"), FULL[1]]
    assert words("line.length", {"at_least": "3 in"}, *near) == []
    assert words("line.length", {"at_least": "3 in"}, *far) == [
        f"{LENGTH} at least 3 in; no case shows that it passes on 3 in or a step over it"
    ]


def test_a_failure_further_off_is_advice_alone() -> None:
    """A case that fails two steps under the figure proves it, and a nearer one is advised."""
    cases = [FULL[0], case(FAIL, line__length="2 7/8 in")]
    proof = proved(rule("r", "line.length", {"at_least": "3 in"}, cases=cases))
    assert proof.is_proved
    told = [one.words for one in proof.unproved if not one.is_error]
    assert told == [
        f"{LENGTH} at least 3 in; no case shows that it fails a step under 3 in",
        "no case shows that it is not verified where a reading is missing",
    ]


def test_a_missing_case_that_is_not_verified_is_advice_alone() -> None:
    """That nothing unknown passes is the engine's doing, so no rule is unproved for want of it."""
    cases = [*FULL, case(OPEN, line__length="unknown")]
    proof = proved(rule("r", "line.length", {"at_least": "3 in"}, cases=cases))
    assert proof.unproved == ()


SIDES: list[tuple[str, object, list[dict[str, Any]], list[str]]] = [
    ("line.length", {"at_least": "3 in"}, FULL[:1],
     [f"{LENGTH} at least 3 in; no case shows that it fails under 3 in"]),
    ("line.length", {"at_most": "3 in"}, [case(PASS, line__length="3 in")],
     [f"{LENGTH} at most 3 in; no case shows that it fails over 3 in"]),
    ("line.length", {"not": {"at_most": "0 in"}}, [case(PASS, line__length="1/16 in")],
     [f"{LENGTH} over 0 in; no case shows that it fails on 0 in or a step under it"]),
    ("line.length", {"between": ["1 in", "2 in"]},
     [case(PASS, line__length="1 in"), case(FAIL, line__length="15/16 in")],
     [f"{LENGTH} 1 in to 2 in; no case shows that it passes on 2 in or a step under it",
      f"{LENGTH} 1 in to 2 in; no case shows that it fails over 2 in"]),
    ("line.length", {"equal_to": "2 in", "within": "1/4 in"},
     [case(PASS, line__length="2 1/4 in"), case(FAIL, line__length="3 in")],
     [f"{LENGTH} 2 in, within 1/4 in; no case shows that it passes on 1 3/4 in or a step over it",
      f"{LENGTH} 2 in, within 1/4 in; no case shows that it fails under 1 3/4 in"]),
    ("delivery.caps", {"equal_to": 2}, [case(PASS, delivery__caps=2), case(FAIL, delivery__caps=1)],
     ["delivery.caps is 2; no case shows that it fails over 2"]),
    ("delivery.caps", {"equal_to": 0}, [case(PASS, delivery__caps=0)],
     ["delivery.caps is 0; no case shows that it fails over 0"]),
    ("plane.fastener", {"one_of": ["screw", "staple"]},
     [case(PASS, plane__fastener="screw"), case(FAIL, plane__fastener="ring-shank nail")],
     ["plane.fastener is screw or staple; no case shows that it passes with staple"]),
    ("plane.fastener", {"one_of": ["screw", "staple"]},
     [case(PASS, plane__fastener=each) for each in ("screw", "staple")],
     ["plane.fastener is screw or staple; no case shows that it fails with anything else"]),
    ("opening.kind", {"none_of": ["skylight", "hatch", "pipe"]}, [case(PASS, opening__kind="vent")],
     [("opening.kind is not skylight, hatch or pipe; no case shows that it fails with skylight, "
      "hatch or pipe")]),
    ("line.membrane", "present", [case(PASS, line__membrane=True)],
     ["line.membrane is yes; no case shows that it fails otherwise"]),
    ("line.membrane", "absent", [case(FAIL, line__membrane=True)],
     ["line.membrane is no; no case shows that it passes then"]),
    ("line.membrane_standard", {"equal_to": "D1970"}, [case(PASS, line__membrane_standard="D1970")],
     ["line.membrane_standard is D1970; no case shows that it fails otherwise"]),
    ("roof.permit_date", {"at_least": "2026-03-01"}, [case(PASS, roof__permit_date="2026-03-01")],
     ["roof.permit_date is on or after 2026-03-01; no case shows that it fails before 2026-03-01"]),
    ("line.length", {"at_least": "line.common_run"},
     [case(PASS, line__length="3 in", line__common_run="3 in")],
     [f"{LENGTH} at least line.common_run; no case shows that it fails under line.common_run"]),
    ("line.cap_profile", {"nearest_of": {"to": "line.angle", "values": ["160 deg", "120 deg"]}},
     [case(PASS, line__cap_profile="160 deg", line__angle="150 deg"),
      case(FAIL, line__cap_profile="120 deg", line__angle="150 deg")],
     [("line.cap_profile is the nearest to line.angle of 160 deg, 120 deg; no case shows that it "
      "passes with 120 deg")]),
]  # fmt: skip


@pytest.mark.parametrize(("of", "limit", "cases", "expected"), SIDES)
def test_every_kind_of_side_is_named(
    of: str, limit: object, cases: list[dict[str, Any]], expected: list[str]
) -> None:
    """What a limit's cases don't show is named, and the cases offered for it leave none open."""
    found = lacking(of, limit, *cases)
    assert [one.words for one in found] == expected
    offered = [example for one in found for example in one.examples]
    assert offered
    more = [{"given": dict(each.given), "expect": str(each.expect)} for each in offered]
    assert words(of, limit, *cases, *more) == []


def test_rows_of_a_table_are_shown_one_by_one() -> None:
    """A row that no case lies in is named by its keys."""
    rows = [
        {"for": "boards", "limit": {"at_least": "4:12"}},
        {"for": "planks", "limit": {"at_least": "3:12"}},
    ]
    cases = [
        case(PASS, plane__deck="boards", plane__slope="4:12"),
        case(FAIL, plane__deck="boards", plane__slope="3.5:12"),
    ]
    found = words("plane.slope", {"table": {"by": "plane.deck", "rows": rows}}, *cases)
    about = "plane.slope is at least 3:12 (row for planks); no case shows that it"
    assert found == [f"{about} passes on 3:12 or a step over it", f"{about} fails under 3:12"]


WHEN = {"line.kind": {"one_of": ["hip", "ridge"]}, "line.vented": False}
HIP = {"line__kind": "hip", "line__vented": False}


def test_conditions_are_shown_to_decide_both_ways() -> None:
    """A listed value that never applies and a condition that never rules out are named."""
    cases = [
        case(PASS, **HIP, line__membrane=True),
        case(FAIL, **HIP, line__membrane=False),
        case(APART, line__kind="eave", line__vented=True, line__membrane=False),
    ]
    assert words("line.membrane", "present", *cases, when=WHEN) == [
        "where line.kind is hip or ridge; no case shows that it applies with ridge",
        "where line.kind is hip or ridge; no case shows that it does not apply with anything else",
        "where line.vented is no; no case shows that it does not apply otherwise",
    ]


def test_a_case_where_two_conditions_fail_shows_neither() -> None:
    """Each condition has to rule a case out by itself, with all the others met."""
    cases = [
        case(PASS, **HIP, line__membrane=True),
        case(FAIL, **HIP | {"line__kind": "ridge"}, line__membrane=False),
        case(APART, **HIP | {"line__kind": "eave"}, line__membrane=False),
        case(APART, **HIP | {"line__vented": True}, line__membrane=False),
    ]
    assert words("line.membrane", "present", *cases, when=WHEN) == []


def test_alternatives_are_shown_one_by_one() -> None:
    """An alternative by which no case applies is named, and so is a part of it."""
    when = {"any_of": [{"line.kind": "hip"}, {"line.kind": "ridge", "line.vented": False}]}
    cases = [
        case(PASS, line__kind="hip", line__membrane=True),
        case(FAIL, line__kind="hip", line__membrane=False),
        case(APART, line__kind="ridge", line__vented=True, line__membrane=False),
    ]
    assert words("line.membrane", "present", *cases, when=when) == [
        "where line.kind is ridge; no case shows that it applies then",
        "where line.kind is ridge; no case shows that it does not apply otherwise",
        "where line.vented is no; no case shows that it applies then",
    ]


def test_a_figure_in_a_condition_is_shown_on_both_sides() -> None:
    """A rule asked from a slope on has to be shown not asked under it."""
    when = {"plane.slope": {"at_least": "8:12"}}
    cases = [
        case(PASS, plane__slope="8:12", plane__ice_barrier=True),
        case(FAIL, plane__slope="8:12", plane__ice_barrier=False),
    ]
    assert words("plane.ice_barrier", "present", *cases, when=when) == [
        "where plane.slope is at least 8:12; no case shows that it does not apply under 8:12"
    ]


def test_a_side_that_no_roof_has_is_not_asked_for() -> None:
    """A figure that a stricter one hides, and a count under nothing, need no case."""
    limit = {"all_of": [{"at_least": "1 ft"}, {"at_least": "2 ft"}]}
    cases = [case(PASS, line__length="2 ft"), case(FAIL, line__length="23 15/16 in")]
    assert words("line.length", limit, *cases) == []
    assert words("delivery.caps", {"at_least": 0}, case(PASS, delivery__caps=0)) == []


def test_readings_against_each_other_still_need_cases() -> None:
    """What can't be stepped is not taken for what no roof has."""
    limit = {"equal_to": "greatest plane.slope"}
    found = words("least plane.slope", limit, case(PASS, plane__slope="8:12"), at="line")
    assert found == [
        (
            "least plane.slope is greatest plane.slope; no case shows that it fails under "
            "greatest plane.slope or over greatest plane.slope"
        )
    ]


EVIDENCE = {"how": ["cap lifted"], "photo": True}


def test_evidence_has_to_be_shown_missing() -> None:
    """A rule that asks for evidence and a photo has to be shown without either."""
    cases = [case(PASS, line__membrane=True), case(FAIL, line__membrane=False)]
    found = lacking("line.membrane", "present", *cases, evidence=EVIDENCE)
    assert [one.words for one in found] == [
        "evidence; no case shows that weaker evidence is not enough",
        "photo; no case shows that it is missed",
    ]
    offered = [case_text(example) for one in found for example in one.examples]
    assert offered == [
        "- {given: {line.membrane: {value: yes, how: stated, photo: a.jpg}}, expect: not verified}",
        "- {given: {line.membrane: {value: yes, how: cap lifted}}, expect: not verified}",
    ]


def test_offered_evidence_proves_it() -> None:
    """The cases offered for evidence leave nothing open, also where readings are on each side."""
    one = rule(
        "r", "each station.setback", {"at_least": "2 in"}, at="station", evidence=EVIDENCE,
        cases=[case(PASS, station__setback=["2 in", "2 in"]),
               case(FAIL, station__setback=["2 in", "1 15/16 in"])],
    )  # fmt: skip
    found = proved(one)
    offered = [example for one in found.open for example in one.examples]
    assert len(offered) == len(found.open) == 2
    one["cases"] += [{"given": dict(c.given), "expect": str(c.expect)} for c in offered]
    assert proved(one).is_proved


def test_a_computed_figure_needs_a_case_on_each_side() -> None:
    """Of a computed fact no case lies just so, so that any that it decides is near enough."""
    given = {"plane__faces": ["180 deg", "0 deg"], "plane__slope": "30 deg"}
    cases = [case(PASS, **given, line__angle="120 deg", line__kind="ridge")]
    about = "line.angle_difference is at most 2 deg; no case shows that it"
    limit = {"at_most": "2 deg"}
    assert words("line.angle_difference", limit, *cases) == [f"{about} fails over 2 deg"]
    cases.append(case(FAIL, **given, line__angle="90 deg", line__kind="ridge"))
    assert words("line.angle_difference", limit, *cases) == []


def test_a_case_that_comes_out_otherwise_is_a_surprise() -> None:
    """A case that its rule contradicts is told, whatever else it shows."""
    one = rule("r", "line.length", {"at_least": "3 in"}, cases=[case(FAIL, line__length="3 in")])
    (laid,) = proved(one).surprises
    assert (str(laid.case.expect), str(laid.outcome)) == (FAIL, PASS)


def test_a_case_that_gives_what_is_computed_is_a_problem() -> None:
    """No record can give a computed fact, so that no case can: it is told with its place."""
    text = rulebook(
        rule("r", "line.angle_difference", {"at_most": "2 deg"},
             cases=[case(PASS, line__angle_difference="1 deg")])
    )  # fmt: skip
    edition = plan(text).books[0].editions[0]
    (problem,) = problems(lambda: prove(edition, Depth()))
    assert problem.found == "`angle_difference`, which is computed"
    assert problem.location.line > 1

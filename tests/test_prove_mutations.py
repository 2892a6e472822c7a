"""Small changes of a rule: which are tried, which some case notices, which are explained.

Every rulebook here is invented and no figure in it means anything.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import pytest

from ridgerule.proof.mutations import mutations_of
from ridgerule.proof.parts import parts_of
from ridgerule.proof.proving import BookProof, Depth, prove
from ridgerule.reports.case_text import case_text
from workshop import amendment, plan, problems, rule, rulebook

if TYPE_CHECKING:
    from ridgerule.proof.proving import RuleProof

PASS, FAIL, OPEN, APART = "pass", "fail", "not verified", "not applicable"
THOROUGH = Depth(thorough=True)


def case(expect: str, **given: object) -> dict[str, Any]:
    """Return a case; `__` stands for the dot of a fact's name."""
    return {"given": {k.replace("__", "."): v for k, v in given.items()}, "expect": expect}


def book_proof(*rules: dict[str, Any], more: tuple[str, ...] = (), **fields: object) -> BookProof:
    """Return the thorough proof of a rulebook."""
    text = rulebook(*rules, **fields)
    return prove(plan(text, *more).books[0].editions[0], THOROUGH)


def proved(one: dict[str, Any], **fields: object) -> RuleProof:
    """Return the thorough proof of the one rule of a rulebook."""
    (proof,) = book_proof(one, **fields).rules
    return proof


def tried(of: str, limit: object, **fields: object) -> list[str]:
    """Return the changes that are tried of a rule, in words."""
    (check,) = plan(rulebook(rule("r", of, limit, **fields))).books[0].editions[0].checks
    return [mutation.words for mutation in mutations_of(check, parts_of(check))]


def unnoticed(of: str, limit: object, *cases: dict[str, Any], **fields: object) -> list[str]:
    """Return the changes that no case of a rule notices; no side of it may be unproved."""
    found = proved(rule("r", of, limit, cases=list(cases), **fields)).open
    assert all(one.is_change for one in found)
    return [one.words for one in found]


LENGTH = "line.length is"
TRIED: list[tuple[str, object, list[str]]] = [
    ("line.length", {"at_least": "3 1/16 in"},
     [f"{LENGTH} at least 3 1/16 in; were it at least 3 in",
      f"{LENGTH} at least 3 1/16 in; were it at least 3 1/8 in"]),
    ("line.length", {"not": {"at_most": "3 in"}},
     [f"{LENGTH} over 3 in; were it over 2 15/16 in",
      f"{LENGTH} over 3 in; were it over 3 1/16 in"]),
    ("line.length", {"at_least": "0 in"}, [f"{LENGTH} at least 0 in; were it at least 1/16 in"]),
    ("line.length", {"between": ["2 in", "2 in"]},
     [f"{LENGTH} 2 in to 2 in; were it 1 15/16 in to 2 in",
      f"{LENGTH} 2 in to 2 in; were it 2 in to 2 1/16 in"]),
    ("line.length", {"equal_to": "2 in", "within": "1/16 in"},
     [f"{LENGTH} 2 in, within 1/16 in; were it 1 15/16 in, within 1/16 in",
      f"{LENGTH} 2 in, within 1/16 in; were it 2 in, within 0 in",
      f"{LENGTH} 2 in, within 1/16 in; were it 2 1/16 in, within 1/16 in",
      f"{LENGTH} 2 in, within 1/16 in; were it 2 in, within 1/8 in"]),
    ("line.length", {"same_as": "line.common_run", "within": "0 in"},
     [f"{LENGTH} within 0 in of line.common_run; were it within 1/16 in of line.common_run"]),
    ("roof.permit_date", {"at_most": "2026-03-01"},
     ["roof.permit_date is on or before 2026-03-01; were it on or before 2026-02-28",
      "roof.permit_date is on or before 2026-03-01; were it on or before 2026-03-02"]),
    ("plane.fastener", {"one_of": ["screw", "staple"]},
     ["plane.fastener is screw or staple; were screw not listed",
      "plane.fastener is screw or staple; were staple not listed"]),
    ("opening.kind", {"none_of": ["skylight"]}, []),
    ("line.membrane", "present", []),
    ("line.cap_profile", {"nearest_of": {"to": "line.angle", "values": ["160 deg", "120 deg"]}},
     [f"line.cap_profile is the nearest to line.angle of 160 deg, 120 deg; were {changed}"
      for changed in (
          "it the nearest to line.angle of 159 deg, 120 deg",
          "it the nearest to line.angle of 160 deg, 119 deg",
          "it the nearest to line.angle of 161 deg, 120 deg",
          "it the nearest to line.angle of 160 deg, 121 deg",
          "160 deg not listed", "120 deg not listed")]),
    ("line.length", {"agreed_by": ["line.common_run", "line.membrane_width"]},
     [f"{LENGTH} what line.common_run and line.membrane_width agree on; were {name} not listed"
      for name in ("line.common_run", "line.membrane_width")]),
    ("line.length", {"any_of": [{"at_least": "line.common_run"}, {"where": {"line.vented": True}}]},
     [f"{LENGTH} at least line.common_run; were it left out",
      "line.vented is yes; were it left out"]),
    ("line.cap_profile",
     {"table": {"by": "line.length", "rows": [
         {"for": {"at_most": "5 ft"}, "limit": {"one_of": ["90 deg"]}},
         {"for": {"at_least": "6 ft"}, "limit": {"one_of": ["120 deg"]}}]}},
     [f"row where {LENGTH} at most 5 ft; were it at most 4 ft 11 15/16 in",
      f"row where {LENGTH} at most 5 ft; were it at most 5 ft 1/16 in",
      f"row where {LENGTH} at least 6 ft; were it at least 5 ft 11 15/16 in",
      f"row where {LENGTH} at least 6 ft; were it at least 6 ft 1/16 in",
      "row for at most 5 ft; were it left out", "row for at least 6 ft; were it left out"]),
]  # fmt: skip


@pytest.mark.parametrize(("of", "limit", "expected"), TRIED)
def test_every_kind_of_change_is_tried(of: str, limit: object, expected: list[str]) -> None:
    """Figures and tolerances move by a step, and what is listed or joined is left out in turn."""
    assert tried(of, limit) == expected


def test_conditions_and_evidence_are_left_out_in_turn() -> None:
    """Each condition, each alternative, the demand for evidence and the one for a photo."""
    when = {"any_of": [{"line.kind": "hip"}, {"line.kind": "ridge", "line.vented": False}]}
    evidence = {"how": ["cap lifted"], "photo": True}
    assert tried("line.membrane", "present", when=when, evidence=evidence) == [
        "where line.kind is hip; were it left out",
        "where line.kind is ridge and line.vented is no; were it left out",
        "where line.kind is ridge; were it left out",
        "where line.vented is no; were it left out",
        "where line.kind is hip or (line.kind is ridge and line.vented is no); were it left out",
        "evidence; were any way to know it enough",
        "photo; were none asked for",
    ]


ABOUT = f"{LENGTH} at least 3 in; were it at least"


def test_a_figure_is_pinned_by_a_case_on_it_and_one_a_step_off() -> None:
    """A case on the figure notices that it rises, and one a step under that it sinks."""
    on, under = case(PASS, line__length="3 in"), case(FAIL, line__length="2 15/16 in")
    limit = {"at_least": "3 in"}
    assert unnoticed("line.length", limit, on, under) == []
    inside = case(PASS, line__length="3 1/16 in")
    assert unnoticed("line.length", limit, inside, under) == [f"{ABOUT} 3 1/16 in"]
    further = case(FAIL, line__length="2 7/8 in")
    assert unnoticed("line.length", limit, on, further) == [f"{ABOUT} 2 15/16 in"]


def test_an_unnoticed_change_offers_the_case_that_would_notice_it() -> None:
    """The case offered comes out by the rule as it is, and otherwise by the rule as changed."""
    cases = [case(PASS, line__length="3 1/16 in"), case(FAIL, line__length="2 7/8 in")]
    found = proved(rule("r", "line.length", {"at_least": "3 in"}, cases=cases)).open
    offered = [case_text(example) for one in found for example in one.examples]
    assert offered == [
        "- {given: {line.length: 2 15/16 in}, expect: fail}",
        "- {given: {line.length: 3 in}, expect: pass}",
    ]


def test_a_change_that_no_roof_tells_is_nobodys_fault() -> None:
    """A figure that a stricter one hides can be left out without any roof noticing it."""
    limit = {"all_of": [{"at_least": "1 ft"}, {"at_least": "2 ft"}]}
    cases = [case(PASS, line__length="2 ft"), case(FAIL, line__length="23 15/16 in")]
    assert unnoticed("line.length", limit, *cases) == []
    assert len(tried("line.length", limit)) == 6


def test_a_missing_side_is_not_told_again_as_a_change() -> None:
    """Of a part with an unproved side no change is told: the side says it."""
    found = proved(
        rule("r", "line.length", {"at_least": "3 in"}, cases=[case(PASS, line__length="3 in")])
    )
    assert [(one.words, one.is_change) for one in found.open] == [
        (f"{LENGTH} at least 3 in; no case shows that it fails under 3 in", False)
    ]
    assert found.tried == 2


def test_a_row_key_that_no_case_pins_is_told() -> None:
    """Moving the key of a row is noticed by a case on it and by one a step beyond."""
    rows = [
        {"for": {"at_most": "5 ft"}, "limit": {"one_of": ["90 deg"]}},
        {"for": {"at_least": "6 ft"}, "limit": {"one_of": ["120 deg"]}},
    ]
    profile = {"table": {"by": "line.length", "rows": rows}}
    cases = [
        case(PASS, line__length="5 ft", line__cap_profile="90 deg"),
        case(FAIL, line__length="5 ft", line__cap_profile="120 deg"),
        case(OPEN, line__length="5 ft 1/16 in", line__cap_profile="90 deg"),
        case(PASS, line__length="7 ft", line__cap_profile="120 deg"),
        case(FAIL, line__length="7 ft", line__cap_profile="90 deg"),
    ]
    assert unnoticed("line.cap_profile", profile, *cases) == [
        f"row where {LENGTH} at least 6 ft; were it at least 5 ft 11 15/16 in",
        f"row where {LENGTH} at least 6 ft; were it at least 6 ft 1/16 in",
    ]


# explained

FAR = [case(PASS, line__length="3 in"), case(FAIL, line__length="2 7/8 in")]
CHANGE = f"{LENGTH} at least 3 in; were it at least 2 15/16 in"


def explanation(what: object, *, of: str = "r") -> dict[str, Any]:
    """Return an entry of `unproved:`."""
    return {"rule": of, "what": what, "because": "nobody reads a\n sixteenth there"}


def test_an_explained_change_proves_the_rulebook() -> None:
    """A change that no case notices is told with the reason that its rulebook gives."""
    one = rule("r", "line.length", {"at_least": "3 in"}, cases=FAR)
    assert not book_proof(one).is_proved
    found = book_proof(one, unproved=[explanation(CHANGE)])
    assert found.is_proved
    (told,) = [each for each in found.rules[0].unproved if each.is_change]
    assert (told.words, told.because) == (CHANGE, "nobody reads a sixteenth there")


def test_one_reason_can_explain_several() -> None:
    """A list under `what` gives each of its entries the same reason; spaces don't matter."""
    cases = [case(PASS, line__length="3 1/16 in"), case(FAIL, line__length="2 7/8 in")]
    one = rule("r", "line.length", {"at_least": "3 in"}, cases=cases)
    both = [CHANGE.replace("; ", ";\n  "), f"{ABOUT} 3 1/16 in"]
    assert book_proof(one, unproved=[explanation(both)]).is_proved


def test_a_side_can_be_explained() -> None:
    """A side that no case shows is explained as a change is."""
    one = rule("r", "line.membrane", "present", cases=[case(PASS, line__membrane=True)])
    side = "line.membrane is yes; no case shows that it fails otherwise"
    assert book_proof(one, unproved=[explanation(side)]).is_proved


def test_an_explanation_of_nothing_is_stale() -> None:
    """What a case shows by now has no need of an explanation, and the proof says so."""
    cases = [case(PASS, line__length="3 in"), case(FAIL, line__length="2 15/16 in")]
    one = rule("r", "line.length", {"at_least": "3 in"}, cases=cases)
    found = book_proof(one, unproved=[explanation(CHANGE)])
    assert all(each.is_proved for each in found.rules)
    assert not found.is_proved
    assert [(each.rule, each.what) for each in found.stale] == [("test/house#r", CHANGE)]
    edition = plan(rulebook(one, unproved=[explanation(CHANGE)])).books[0].editions[0]
    assert prove(edition, Depth()).is_proved  # what no case notices was not tried


def test_an_explanation_of_an_unknown_rule_is_a_problem() -> None:
    """A rule that the rulebook doesn't have is told at its place, with the one that was meant."""
    one = rule("gap", "line.length", {"at_least": "3 in"}, cases=FAR)
    text = rulebook(one, unproved=[explanation(CHANGE, of="gapp")])
    edition = plan(text).books[0].editions[0]
    (problem,) = problems(lambda: prove(edition, THOROUGH))
    assert (problem.expected, problem.found) == ("a rule of this rulebook", "`gapp`")
    assert problem.advice == "did you mean `gap`?"
    assert '"rule": "gapp"' in text.splitlines()[problem.location.line - 1]


@pytest.mark.parametrize(
    ("entry", "expected", "found"),
    [
        ({"rule": "r", "what": "x"}, "the key `because`", "an item without it"),
        ({"rule": "r", "what": [], "because": "y"}, "the words of `book prove`, or a list of them",
         "an empty list"),
        ({"rule": "r", "what": {"a": 1}, "because": "y"},
         "the words of `book prove`, or a list of them", "a mapping with the keys `a`"),
        ({"rule": "r", "what": "x", "because": "y", "why": "z"}, "no other key here",
         "the key `why`"),
        ("x", "a mapping", "`x`"),
    ],
)  # fmt: skip
def test_an_entry_of_another_form_is_refused(entry: object, expected: str, found: str) -> None:
    """An explanation without a reason, with nothing explained or with other keys is a problem."""
    one = rule("r", "line.length", {"at_least": "3 in"})
    (problem,) = problems(lambda: plan(rulebook(one, unproved=[entry])))
    assert (problem.expected, problem.found) == (expected, found)


def test_a_base_explains_for_those_that_stand_on_it() -> None:
    """A base's reasons hold for a rule that is inherited; a changed one is explained anew."""
    base = rulebook(
        rule("r", "line.length", {"at_least": "3 in"}, cases=FAR),
        name="test/base@1", unproved=[explanation(CHANGE)],
    )  # fmt: skip
    local = rulebook(name="test/local@1", based_on=["test/base@1"])
    edition = plan(local, base).books[0].editions[0]
    assert prove(edition, Depth(thorough=True, inherited=True)).is_proved
    limit = {"at_least": "2 7/8 in"}
    cases = [case(PASS, line__length="2 7/8 in"), case(FAIL, line__length="2 in")]
    changed = rulebook(
        name="test/local@1", based_on=["test/base@1"],
        amendments=[amendment("r", limit=limit, cases=cases, permitted_by="a test")],
    )  # fmt: skip
    (proof,) = prove(plan(changed, base).books[0].editions[0], THOROUGH).rules
    assert [one.words for one in proof.open] == [
        f"{LENGTH} at least 2 7/8 in; were it at least 2 13/16 in"
    ]


def test_inherited_rules_have_their_cases_run_alone() -> None:
    """A rule that is inherited as it is gets its cases run, and is proved where that is asked."""
    base = rulebook(rule("r", "line.length", {"at_least": "3 in"}, cases=FAR), name="test/base@1")
    local = rulebook(
        rule("own", "line.membrane", "present", cases=[case(FAIL, line__membrane=True)]),
        name="test/local@1", based_on=["test/base@1"],
    )  # fmt: skip
    edition = plan(local, base).books[0].editions[0]
    found = prove(edition, THOROUGH)
    assert [proof.check.rule.id for proof in found.rules] == ["own"]
    (inherited,) = found.inherited
    assert (len(inherited.cases), inherited.rows, inherited.unproved) == (2, (), ())
    whole = prove(edition, Depth(thorough=True, inherited=True))
    assert [proof.check.rule.id for proof in whole.rules] == ["r", "own"]
    assert whole.inherited == ()

"""Several rulebooks that limit one fact at one place: which governs, and which can't be met."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING, Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from ridgerule.audit.findings import CONFLICT, Outcome
from ridgerule.audit.together import Relation
from ridgerule.reports import view
from ridgerule.reports.json_report import json_report
from ridgerule.reports.text import text_report
from workshop import EVERYTHING, audit, outcomes, rule, rulebook

if TYPE_CHECKING:
    from ridgerule.audit.findings import Audit

ROOF = {
    "planes": {"S": {"faces": "180 deg"}, "E": {"faces": "90 deg"}},
    "lines": {
        "H1": {"kind": "hip", "between": ["S", "E"], "membrane_width": "9 in", "stations": []}
    },
    "complete": dict.fromkeys(EVERYTHING, "all"),
}
OF = "line.membrane_width"


def two(first: Any, second: Any, of: str = OF, **fields: Any) -> Audit:
    """Return the audit of a roof against two rulebooks that each limit one fact."""
    one = rulebook(rule("one", of, first, **fields), name="test/one@1")
    other = rulebook(rule("other", of, second, **fields), name="test/other@1")
    return audit(ROOF, one, other, asked=("test/one@1", "test/other@1"))


def told(done: Audit) -> tuple[str, list[str]]:
    """Return the relation of the one place with several limits, and the rules in order."""
    (only,) = done.together
    return str(only.relation), [f.rule.id for f in only.findings if f.rule]


@pytest.mark.parametrize(
    ("first", "second", "relation", "order"),
    [
        ({"at_least": "8 in"}, {"at_least": "9 in"}, "governs", ["other", "one"]),
        ({"at_least": "9 in"}, {"at_least": "8 in"}, "governs", ["one", "other"]),
        ({"at_most": "8 in"}, {"at_most": "9 in"}, "governs", ["one", "other"]),
        ({"between": ["8 in", "10 in"]}, {"at_least": "8 in"}, "governs", ["one", "other"]),
        (
            {"equal_to": "9 in", "within": "1 in"},
            {"between": ["8 in", "10 in"]},
            None,
            None,
        ),
        ({"at_least": "8 in"}, {"at_most": "12 in"}, "side by side", ["one", "other"]),
        ({"at_least": "8 in"}, {"at_most": "8 in"}, "side by side", ["one", "other"]),
        ({"at_least": "9 in"}, {"at_most": "8 in"}, "conflict", ["one", "other"]),
        ({"one_of": ["8 in", "9 in"]}, {"at_least": "8 1/2 in"}, "side by side", ["one", "other"]),
        ({"one_of": ["8 in", "9 in"]}, {"at_least": "8 in"}, "governs", ["one", "other"]),
        ({"one_of": ["8 in", "9 in"]}, {"at_least": "10 in"}, "conflict", ["one", "other"]),
        ({"not": {"at_most": "8 in"}}, {"at_least": "8 in"}, "governs", ["one", "other"]),
        ({"at_least": "203.2 mm"}, {"at_least": "8 in"}, None, None),
    ],
)
def test_how_two_limits_lie(first: Any, second: Any, relation: str | None, order: Any) -> None:
    """One governs if it accepts a part of what the other does; the same limit twice is nothing."""
    done = two(first, second)
    if relation is None:
        assert done.together == ()
    else:
        assert told(done) == (relation, order)


def test_a_conflict_is_an_open_point_of_the_roof_alone() -> None:
    """Limits that no value meets leave the roof open, and each rulebook as it came out."""
    done = two({"at_least": "9 in"}, {"at_most": "8 in"})
    (point,) = [finding for finding in done.findings if finding.about == CONFLICT]
    assert point.outcome is Outcome.NOT_VERIFIED
    assert point.books == ()
    assert point.reason == (
        "no membrane width meets both at least 9 in (test/one#one) and at most 8 in "
        "(test/other#other); ask the authorities which of them governs"
    )
    assert outcomes(done, "one") == {"hip H1": "pass"}
    assert outcomes(done, "other") == {"hip H1": "fail"}
    assert [str(book.outcome) for book in done.books] == ["pass", "fail"]


def test_limits_of_one_rulebook_are_told_only_where_they_conflict() -> None:
    """Two rules of one rulebook on one fact say nothing of which rulebook governs."""
    book = rulebook(rule("one", OF, {"at_least": "8 in"}), rule("other", OF, {"at_least": "9 in"}))
    assert audit(ROOF, book).together == ()
    clash = rulebook(rule("one", OF, {"at_least": "9 in"}), rule("other", OF, {"at_most": "8 in"}))
    assert [t.relation for t in audit(ROOF, clash).together] == [Relation.CONFLICT]


def test_a_rule_that_does_not_apply_limits_nothing() -> None:
    """A limit counts only where its rule applies, surely."""
    for when, expected in (({"line.kind": "ridge"}, 0), ({"line.vented": True}, 0),
                           ({"line.kind": "hip"}, 1)):  # fmt: skip
        done = two({"at_least": "8 in"}, {"at_least": "9 in"}, when=when)
        assert len(done.together) == expected


def test_a_limit_that_names_another_fact_is_read_where_it_stands() -> None:
    """A limit that is another fact's value governs by that value at the place."""
    done = two({"at_most": "8 1/2 in"}, {"at_most": "line.length"})
    assert told(done) == ("side by side", ["one", "other"])  # how long the line is is not known
    one = rulebook(rule("one", OF, {"at_most": "8 1/2 in"}), name="test/one@1")
    other = rulebook(rule("other", OF, {"at_most": "line.length"}), name="test/other@1")
    line = {"kind": "hip", "between": ["S", "E"], "membrane_width": "9 in", "length": "8 in"}
    roof = {**ROOF, "lines": {"H1": line}}
    known = audit(roof, one, other, asked=("test/one@1", "test/other@1"))
    assert told(known) == ("governs", ["other", "one"])


def test_reports_show_which_governs_with_the_others_under_it() -> None:
    """The text and the JSON report name the governing limit first, and the findings' numbers."""
    done = two({"at_least": "8 in"}, {"at_least": "9 in"})
    shown = view.view_of(done, settings=view.Settings())
    text = text_report(shown, width=80, colour=False, show_all=False)
    assert (
        "SEVERAL LIMITS ON ONE FACT (1)\n"
        "line.membrane_width at hip H1\n"
        "     governs   at least 9 in  (test/other#other)\n"
        "     under it  at least 8 in  (test/one#one)\n"
    ) in text
    (data,) = json.loads(json_report(shown))["limits_together"]
    numbers = {f["rule"]: f["number"] for f in json.loads(json_report(shown))["findings"]}
    assert data == {
        "fact": OF,
        "relation": "governs",
        "limits": [
            {"rule": "test/other#other", "rulebook": "test/other@1", "limit": "at least 9 in"},
            {"rule": "test/one#one", "rulebook": "test/one@1", "limit": "at least 8 in"},
        ],
        "places": [
            {
                "place": "hip H1",
                "findings": [numbers["test/other#other"], numbers["test/one#one"]],
            }
        ],
    }


def test_text_says_conflict() -> None:
    """The text report sets the limits of a conflict against each other, and asks who governs."""
    shown = view.view_of(two({"at_least": "9 in"}, {"at_most": "8 in"}), settings=view.Settings())
    text = text_report(shown, width=100, colour=False, show_all=False)
    assert "     conflict  at least 9 in  (test/one#one)\n" in text
    assert "     with      at most 8 in  (test/other#other)\n" in text
    assert "rulebooks#limits-that-can-be-met-together" in text


_FIGURES = st.integers(1, 8)
_LIMITS = st.one_of(
    st.builds(lambda n: {"at_least": f"{n} in"}, _FIGURES),
    st.builds(lambda n: {"at_most": f"{n} in"}, _FIGURES),
    st.builds(lambda n, m: {"between": [f"{min(n, m)} in", f"{max(n, m)} in"]}, _FIGURES, _FIGURES),
    st.builds(lambda n: {"equal_to": f"{n} in", "within": "1/2 in"}, _FIGURES),
    st.builds(lambda n: {"not": {"at_least": f"{n} in"}}, _FIGURES),
    st.builds(lambda n, m: {"one_of": [f"{n} in", f"{m} in"]}, _FIGURES, _FIGURES),
)


@given(_LIMITS, _LIMITS)
def test_governing_agrees_with_every_reading(first: Any, second: Any) -> None:
    """What is said of two limits is what comes out over readings from 0 to 9 in by quarters."""
    one = rulebook(rule("one", "station.gap", first), name="test/one@1")
    other = rulebook(rule("other", "station.gap", second), name="test/other@1")
    stations = [{"at": f"{n + 1} ft", "gap": f"{n / 4} in"} for n in range(37)]
    line = {"kind": "hip", "between": ["S", "E"], "stations": stations}
    done = audit({**ROOF, "lines": {"H1": line}}, one, other, asked=("test/one@1", "test/other@1"))
    met = list(zip(outcomes(done, "one").values(), outcomes(done, "other").values(), strict=True))
    both, only_one, only_other = (
        pair in met for pair in (("pass", "pass"), ("pass", "fail"), ("fail", "pass"))
    )
    relations = {str(t.relation) for t in done.together}
    firsts = {t.findings[0].rule.id for t in done.together if t.findings[0].rule}
    if not both:
        assert relations == {"conflict"}
    elif not only_one and not only_other:
        assert relations == set()
    elif only_one and only_other:
        assert relations == {"side by side"}
    else:
        assert (relations, firsts) == ({"governs"}, {"one" if only_other else "other"})

"""A warranty's coverages: each condition met, shown not met, not evidenced or not applicable."""

from __future__ import annotations

import csv
import io
import json
import xml.etree.ElementTree as ET
from typing import TYPE_CHECKING, Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from ridgerule.problems import InputRejected
from ridgerule.reports.cautions import CAUTIONS, DISCLAIMER
from ridgerule.reports.view import Settings
from ridgerule.reports.warranty_data import warranty_csv, warranty_json, warranty_junit
from ridgerule.reports.warranty_sheet import warranty_sheet
from ridgerule.reports.warranty_view import told, warranty_view
from ridgerule.review.warranty import Status, reviews_of
from workshop import EVERYTHING, amendment, audit, plan, record, rule, rulebook

if TYPE_CHECKING:
    from ridgerule.reports.warranty_view import CoverageView, WarrantyView

MEMBRANE = rule("membrane", "line.membrane_width", {"at_least": "9 in"},
                when={"line.kind": "hip"})  # fmt: skip
GAP = rule("gap", "station.gap", {"at_least": "3 in"}, when={"line.kind": "hip"})
VALLEY = rule("valley", "line.membrane_width", {"at_least": "36 in"},
              when={"line.kind": "valley"})  # fmt: skip
SLOPE = rule("slope", "plane.slope", {"at_least": "3:12"})
WITHIN = {
    "roof.registration_date": {
        "at_least": "roof.installation_date",
        "equal_to": "roof.installation_date",
        "within": "60 days",
    }
}
NAME = "test/maker@1"


def coverage(conditions: dict[str, Any], **more: Any) -> dict[str, Any]:
    """Return a coverage's data."""
    return {"id": "tight", "title": "Stays tight", "conditions": conditions, **more}


def maker(conditions: dict[str, Any], **more: Any) -> str:
    """Return a warrantor's rulebook with one coverage."""
    covers = [coverage(conditions, **more)]
    return rulebook(MEMBRANE, GAP, VALLEY, SLOPE, name=NAME, coverages=covers)


def roof(**changes: Any) -> dict[str, Any]:
    """Return a roof of two planes and three hips, each read at two stations and met."""
    lines = {
        name: {
            "kind": "hip",
            "between": ["S", "E"],
            "membrane_width": "9 in",
            "stations": [{"at": "2 ft", "gap": "3 1/8 in"}, {"at": "9 ft", "gap": "3 1/8 in"}],
        }
        for name in ("H1", "H2", "H3")
    }
    data: dict[str, Any] = {
        "roof": {"id": "T-1"},
        "dates": {"installation": "2026-05-01", "registration": "2026-06-30"},
        "complete": dict.fromkeys(EVERYTHING, "all"),
        "planes": {"S": {"slope": "7:12", "faces": "180 deg"},
                   "E": {"slope": "7:12", "faces": "90 deg"}},
        "lines": lines,
    }  # fmt: skip
    return {**data, **changes}


def with_line(name: str, **changes: Any) -> dict[str, Any]:
    """Return the roof with one of its lines changed."""
    data = roof()
    return {**data, "lines": {**data["lines"], name: {**data["lines"][name], **changes}}}


def shown(data: dict[str, Any], book: str) -> WarrantyView:
    """Return the review of a roof in words."""
    done = audit(data, book)
    return warranty_view(done, reviews_of(done), settings=Settings())


def only(data: dict[str, Any], book: str) -> CoverageView:
    """Return the one coverage reviewed."""
    (one,) = shown(data, book).coverages
    return one


def statuses(found: CoverageView) -> dict[str, str]:
    """Return what each condition came to, by its number."""
    return {condition.number: condition.status.value for condition in found.listed()}


def test_each_status() -> None:
    """A condition is shown not met, not evidenced, not applicable or met, as its findings say."""
    book = maker({"all_of": ["membrane", "gap", "valley", "slope"]})
    data = with_line("H2", membrane_width="8 in")
    data["lines"]["H3"]["stations"][1].pop("gap")
    data["complete"]["valleys"] = "none"
    found = only(data, book)
    assert statuses(found) == {
        "1": "shown not met",
        "2": "not evidenced",
        "3": "not applicable",
        "4": "met",
    }
    assert found.status is Status.NOT_MET
    assert found.summary == (
        "conditions shown not met: 1, not evidenced: 1, met: 1, not applicable: 1; "
        "the warrantor decides"
    )
    membrane, gap, valley, slope = found.conditions
    assert told(membrane.decided_by) == "hip H2: 8 in; must be at least 9 in"
    assert told(gap.decided_by) == "station.gap at hip H3 at 9 ft: not recorded"
    assert gap.to_settle == (
        (
            "Measure gap: clear between the cut edges of the field slates, square to the line, "
            "both sides in all (tape) — hip H3 at 9 ft"
        ),
    )
    assert told(valley.decided_by) == (
        "hip H1, hip H2, hip H3: does not apply: line.kind is hip; "
        "roof: the record states that there is no valley"
    )
    assert told(slope.decided_by) == "plane S, plane E: 7:12; must be at least 3:12"


@pytest.mark.parametrize(
    ("registered", "status"),
    [
        ("2026-06-30", "met"),  # the sixtieth day
        ("2026-07-01", "shown not met"),
        ("2026-05-01", "met"),
        ("2026-04-30", "shown not met"),  # before it was laid
        (None, "not evidenced"),
        ("unknown", "not evidenced"),
    ],
)
def test_registered_within(registered: str | None, status: str) -> None:
    """Registration within so many days is counted from the record's own dates, both ends in."""
    book = maker({"all_of": [{"title": "Registered in time", "where": WITHIN}]})
    dates = {"installation": "2026-05-01", "registration": registered}
    (condition,) = only(roof(dates=dates), book).conditions
    assert (condition.status.value, condition.title) == (status, "Registered in time")


def test_installed_by_and_transferred() -> None:
    """A last day of installation and a transfer are conditions on the roof itself."""
    laid = {"title": "Laid by 2026", "where": {"roof.installation_date": {"at_most": "2026-12-31"}}}
    first = {"title": "First owner's", "where": {"roof.warranty_transferred": False}}
    book = maker({"all_of": [laid, first]})
    assert statuses(only(roof(), book)) == {"1": "met", "2": "not evidenced"}
    later = roof(dates={"installation": "2027-01-01"}, warranty={"transferred": "yes"})
    found = only(later, book)
    assert statuses(found) == {"1": "shown not met", "2": "shown not met"}
    assert told(found.conditions[0].decided_by) == (
        "roof: installation date is 2027-01-01; the condition is that the installation date is on "
        "or before 2026-12-31"
    )


def test_several_rules_and_any_of_several() -> None:
    """A condition may need several rules, or any one: any met is enough, any open keeps it open."""
    both, either = {"all_of": ["membrane", "slope"]}, {"any_of": ["membrane", "slope"]}
    book = maker({"all_of": [both, either]})
    failing = with_line("H1", membrane_width="8 in")
    assert statuses(only(failing, book)) == {
        "1": "shown not met", "1.1": "shown not met", "1.2": "met",
        "2": "met", "2.1": "shown not met", "2.2": "met",
    }  # fmt: skip
    failing["planes"]["S"].pop("slope")
    unread = statuses(only(failing, book))
    assert (unread["1"], unread["2"]) == ("shown not met", "not evidenced")


def test_a_coverage_of_any_of_says_so() -> None:
    """A coverage that any one of its conditions satisfies says that in its summary."""
    found = only(with_line("H1", membrane_width="8 in"), maker({"any_of": ["membrane", "slope"]}))
    assert found.status is Status.MET
    assert "(any one of them will do); the warrantor decides" in found.summary


def test_all_not_applicable_is_not_evidenced() -> None:
    """A coverage of which no condition applies has nothing shown."""
    data = roof()
    data["complete"]["valleys"] = "none"
    found = only(data, maker({"all_of": ["valley"]}))
    assert statuses(found) == {"1": "not applicable"}
    assert found.status is Status.NOT_EVIDENCED


@pytest.mark.parametrize(
    ("allowed", "faults", "status"),
    [
        (0, {"H1": "8 in"}, "shown not met"),
        (1, {"H1": "8 in"}, "met"),
        (1, {"H1": "8 in", "H2": "8 in"}, "shown not met"),
        (2, {"H1": "8 in", "H2": "8 in"}, "met"),
        (3, {"H1": "8 in", "H2": "8 in", "H3": "8 in"}, "shown not met"),  # met nowhere
        (1, {"H1": "8 in", "H2": "unknown"}, "not evidenced"),
    ],
)
def test_isolated_faults(allowed: int, faults: dict[str, str], status: str) -> None:
    """So many faults are allowed where the rule is met elsewhere; one more and none is."""
    data = roof()
    for name, width in faults.items():
        data["lines"][name]["membrane_width"] = width
    (condition,) = only(data, maker({"all_of": ["membrane"]}, isolated_allowed=allowed)).conditions
    assert condition.status.value == status
    isolated = [fault.place for fault in condition.isolated]
    assert isolated == ([] if status == "shown not met" else [f"hip {n}" for n, w in faults.items()
                                                             if w == "8 in"])  # fmt: skip


def test_two_faults_on_one_line_are_not_isolated() -> None:
    """Faults at two stations of one hip are no isolated faults, at two hips they are."""
    book = maker({"all_of": ["gap"]}, isolated_allowed=2)
    one_hip, two_hips = roof(), roof()
    for station in one_hip["lines"]["H1"]["stations"]:
        station["gap"] = "2 in"
    for name in ("H1", "H2"):
        two_hips["lines"][name]["stations"][0]["gap"] = "2 in"
    assert statuses(only(one_hip, book)) == {"1": "shown not met"}
    assert statuses(only(two_hips, book)) == {"1": "met"}


def test_a_line_that_may_be_unlisted_leaves_its_rules_open() -> None:
    """Where the record doesn't say that all hips are listed, no rule on hips is shown met."""
    book = maker({"all_of": ["membrane", "gap", "slope"]})
    data = roof()
    del data["complete"]["hips"]
    assert statuses(only(data, book)) == {"1": "not evidenced", "2": "not evidenced", "3": "met"}


LOCAL = rulebook(
    name="test/local@1",
    based_on=[NAME],
    amendments=[
        amendment("membrane", limit={"at_least": "6 in"}, permitted_by="an office (invented)")
    ],
    withdrawals=[amendment("gap", permitted_by="an office (invented)")],
)


def test_a_coverage_reads_its_own_rulebook() -> None:
    """What a local rulebook loosens or withdraws, the warrantor's coverage asks all the same."""
    book = maker({"all_of": ["membrane", "gap"]})
    data = with_line("H1", membrane_width="8 in")
    together = plan(LOCAL, book, asked=("test/local@1", NAME))
    done = audit(data, together)
    view = warranty_view(done, reviews_of(done), settings=Settings())
    (found,) = view.coverages
    assert (found.book, statuses(found)) == (NAME, {"1": "shown not met", "2": "met"})


@pytest.mark.parametrize(
    ("conditions", "expected"),
    [
        ({"all_of": ["membrain"]}, ("expected a rule of this rulebook; found `membrain`; did you "
         "mean `membrane`?")),
        ({"all_of": [{"title": "x", "where": {"roof.permit_day": "2026-01-01"}}]},
         ("expected a fact that the engine or a loaded rulebook declares; found `roof.permit_day`; "
         "did you mean `roof.permit_date`?")),
        ({"all_of": [{"title": "x", "where": {"line.length": {"at_least": "2 ft"}}}]},
         ("expected a word before `line.length`: a roof can have several lines; found none; write "
         "one of `each`, `any`, `least`, `greatest`, `mean`, `spread`, `count`")),
    ],
)  # fmt: skip
def test_mistaken_conditions_are_told_with_their_place(conditions: Any, expected: str) -> None:
    """A condition that names no rule or no fact is a problem of the rulebook, with its line."""
    with pytest.raises(InputRejected) as caught:
        plan(maker(conditions))
    (problem,) = caught.value.problems
    assert problem.location.line > 1
    assert (
        expected in str(problem)
        or "title" in expected in str(problem)
        or ("title" in expected and "title" in str(problem))
    )


def test_every_format_says_all_of_it() -> None:
    """JSON, the table, JUnit and the sheet carry each condition, the disclaimer, the cautions."""
    book = maker({"all_of": ["membrane", {"any_of": ["gap", "slope"]}]}, evidence="photos")
    view = shown(with_line("H1", membrane_width="8 in"), book)
    data = json.loads(warranty_json([view]))
    (found,) = data["coverages"]
    assert [c["status"] for c in found["conditions"]] == ["shown not met", "met"]
    assert found["conditions"][0]["decided_by"] == [
        {"place": "hip H1", "outcome": "fail", "found": "8 in", "must_be": "at least 9 in"}
    ]
    assert (data["disclaimer"], data["cautions"]) == (DISCLAIMER, list(CAUTIONS))
    rows = list(csv.DictReader(io.StringIO(warranty_csv([view]))))
    assert [row["number"] for row in rows if row["number"]] == ["1", "2", "2.1", "2.2"]
    assert DISCLAIMER in {row["condition"] for row in rows}
    root = ET.fromstring(warranty_junit([view]))  # noqa: S314 - our own text
    assert (root.get("tests"), root.get("failures"), root.get("skipped")) == ("2", "1", "0")
    words = str(warranty_sheet(view))
    for said in (DISCLAIMER, *CAUTIONS, "the warrantor decides", "photos", "hip H1: 8 in"):
        assert said in words


_BLANKS = st.lists(
    st.sampled_from(
        [
            ("dates", "registration"), ("dates", "installation"), ("warranty", "transferred"),
            ("planes", "S", "slope"), ("planes", "E", "slope"), ("complete", "hips"),
            *(("lines", h, key) for h in ("H1", "H2", "H3") for key in ("membrane_width", "kind")),
            *(("lines", h, "stations", n, "gap") for h in ("H1", "H2", "H3") for n in (0, 1)),
        ]
    ),
    max_size=4, unique=True,
)  # fmt: skip
_FAULTS = st.lists(
    st.sampled_from(
        [("lines", h, "membrane_width", "8 in") for h in ("H1", "H2", "H3")]
        + [("planes", "S", "slope", "2:12"), ("dates", "registration", "2026-09-01")]
    ),
    max_size=2, unique=True,
)  # fmt: skip
_BOOK = maker(
    {
        "all_of": [
            {"title": "in time", "where": WITHIN},
            {"title": "first", "where": {"roof.warranty_transferred": False}},
            "membrane",
            {"any_of": ["gap", "slope"]},
        ]
    }
)
_PLAN = plan(_BOOK)


@given(_FAULTS, _BLANKS)
def test_what_is_taken_out_is_never_met_for_it(faults: Any, blanks: Any) -> None:
    """Removing values from a record turns no condition into met, and no coverage."""
    data = roof(warranty={"transferred": "no"})
    for *way, value in faults:
        _inside(data, way[:-1])[way[-1]] = value
    before = _review(data)
    for way in blanks:
        _inside(data, list(way[:-1])).pop(way[-1], None)
    after = _review(data)
    for was, now in zip(before, after, strict=True):
        assert now is not Status.MET or was is Status.MET
        assert now is not Status.NOT_APPLICABLE or was is Status.NOT_APPLICABLE


def _inside(data: Any, way: list[Any]) -> Any:
    for step in way:
        data = data[step]
    return data


def _review(data: dict[str, Any]) -> list[Status]:
    from ridgerule.audit.evaluate import evaluate  # noqa: PLC0415 - the plan is made once

    done = evaluate(_PLAN, record(data, _PLAN))
    (found,) = reviews_of(done)
    return [found.status, *(answer.status for answer in found.answers)]

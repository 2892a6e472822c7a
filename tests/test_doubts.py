"""Readings that can hardly be right, and what those taken show of all there are."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING, Any

import pytest
from scipy import stats

from ridgerule.audit.doubts import doubts
from ridgerule.reports import view
from ridgerule.reports.json_report import json_report
from ridgerule.reports.text import text_report
from workshop import audit, outcomes, rule, rulebook

if TYPE_CHECKING:
    from ridgerule.audit.findings import Audit

GAP = rule("gap", "station.gap", {"at_least": "3 in"}, when={"line.kind": "hip"})
BOOK = rulebook(GAP)
TAPE = {"tape": {"graduation": "1/16 in", "expanded_uncertainty": "1/16 in"}}


def hip(*stations: dict[str, Any], **line: Any) -> dict[str, Any]:
    """Return a roof with one hip and these stations."""
    return {
        "instruments": TAPE,
        "planes": {"S": {"slope": "7:12", "faces": "180 deg"},
                   "E": {"slope": "7:12", "faces": "90 deg"}},
        "lines": {"H": {"kind": "hip", "between": ["S", "E"], **line, "stations": [*stations]}},
    }  # fmt: skip


def gaps(*texts: str) -> list[dict[str, Any]]:
    """Return a station for each gap."""
    return [{"at": f"{n + 1} ft", "gap": text} for n, text in enumerate(texts)]


def told(data: dict[str, Any]) -> list[tuple[str, str]]:
    """Return what is odd in a roof, and what to do about it."""
    done = audit(data, BOOK)
    return [(doubt.said, doubt.advice) for doubt in doubts(done.record, done.plan.vocabulary)]


def test_a_station_beyond_its_lines_end() -> None:
    """A station further along than its line is long is told with the length."""
    data = hip({"at": "21 ft", "gap": "3 in"}, {"at": "18 ft", "gap": "3 in"}, length="18 ft")
    assert told(data) == [
        ("hip H at 21 ft: hip H is 18 ft long", "measure the line, or the way to it, again")
    ]


@pytest.mark.parametrize(
    ("second", "is_odd"), [("3 1/16 in", False), ("3 3/32 in", False), ("3 1/8 in", True)]
)
def test_two_readings_of_one_spot(second: str, is_odd: bool) -> None:
    """Two readings at one spot differ oddly from where they are surer than that: root 2 x U."""
    data = hip({"at": "2 ft", "gap": "3 in"}, {"at": "24 in", "gap": second})
    expected = [((f"gap at hip H at 24 in is 3 in and {second}, further apart than the readings "
                 "are sure to"), "read it again, and say which holds")]  # fmt: skip
    assert told(data) == (expected if is_odd else [])


@pytest.mark.parametrize(
    ("odd", "said", "advice"),
    [
        ("31 in", "gap at hip H at 4 ft is 31 in, 10 times what the others are",
         "a point left out or put in? check the reading"),
        ("0.31 in", "gap at hip H at 4 ft is 0.31 in, a 10th of what the others are",
         "a point left out or put in? check the reading"),
        ("3 mm", "gap at hip H at 4 ft is 3 mm, a 26th of what the others are",
         "inches written as millimetres? check the unit"),
        ("20 in", "gap at hip H at 4 ft is 20 in, 6 times what the others are",
         "check the reading and its unit"),
    ],
)  # fmt: skip
def test_a_reading_many_times_its_neighbours(odd: str, said: str, advice: str) -> None:
    """A reading far from all others of its fact is told, with the slip it looks like."""
    assert told(hip(*gaps("3 1/8 in", "3 1/8 in", "3 1/16 in", odd))) == [(said, advice)]


def test_too_few_readings_stand_out_from_nothing() -> None:
    """Among three readings none stands out, nor does a reading like the others."""
    assert told(hip(*gaps("3 in", "3 in", "30 in"))) == []
    assert told(hip(*gaps("3 in", "2 in", "5 in", "8 in"))) == []


def test_repeats_that_scatter() -> None:
    """Repeats further apart than the instrument explains are told."""
    long = {
        "value": "3 in",
        "how": "measured",
        "with": "tape",
        "repeats": ["3 1/16 in", "3 1/2 in"],
    }
    assert told(hip({"at": "2 ft", "gap": long})) == [
        ("gap at hip H at 2 ft was read as 3 in, 3 1/16 in, 3 1/2 in",
         "more scatter than the instrument explains: see where it is read")
    ]  # fmt: skip
    long["repeats"] = ["3 1/16 in", "3 1/8 in"]
    assert told(hip({"at": "2 ft", "gap": long})) == []


@pytest.mark.parametrize(("angle", "is_odd"), [("138 deg", False), ("134 deg", False),
                                               ("120 deg", True)])  # fmt: skip
def test_an_angle_that_the_planes_contradict(angle: str, is_odd: bool) -> None:
    """A square hip at 7:12 has 138.25 deg; an angle over 5 deg off is told beside it."""
    expected = [(f"angle at hip H is {angle}, where its planes give ≈ 138.25 deg",
                 "one is wrong: the angle, a slope or a direction")]  # fmt: skip
    assert told(hip(angle=angle)) == (expected if is_odd else [])


def test_doubts_decide_nothing_and_stand_in_reports() -> None:
    """A doubtful reading is judged as any other; text and data tell of it with its line."""
    done = audit(hip(*gaps("3 1/8 in", "3 1/8 in", "3 1/16 in", "31 in")), BOOK)
    assert outcomes(done, "gap")["hip H at 4 ft"] == "pass"
    shown = view.view_of(done, settings=view.Settings())
    text = " ".join(text_report(shown, width=100, colour=False, show_all=False).split())
    assert "READINGS TO LOOK AT AGAIN (1) ! gap at hip H at 4 ft is 31 in" in text
    (doubt,) = json.loads(json_report(shown))["doubts"]
    assert doubt["line"].startswith("roof.json:")


def sampled(done: Audit) -> list[tuple[str, int, int, int | None, str]]:
    """Return what the reports say of all there is."""
    shown = view.view_of(done, settings=view.Settings())
    data = json.loads(json_report(shown))["sampled"]
    return [(s["of"], s["inspected"], s["faulty"], s["lot"], s["statement"]) for s in data]


def test_stations_and_samples_against_scipy() -> None:
    """The share shown is Clopper and Pearson's upper bound on faults (scipy's beta), one-sided."""
    data = hip(*gaps(*["3 in"] * 21, "2 in"))
    data["samples"] = {
        "caps": {"of": "caps", "inspected": "22", "faulty": "0"},
        "slates": {"of": "slates", "inspected": "30", "faulty": "2", "lot": "400"},
    }
    caps, slates, rule_ = sampled(audit(data, BOOK))
    right = 100 * (1 - stats.beta.ppf(0.9, 1, 22))  # 90.06 %: the success run's 22 for 90/90
    assert caps == (
        "caps", 22, 0, None,
        (f"22 pieces without a fault: 90 % sure that at least ≈ {right:.2f} % of all such are "
        "right, if they were picked at random"),
    )  # fmt: skip
    most = max(k for k in range(2, 400) if stats.hypergeom.cdf(2, 400, k, 30) > 0.1)
    assert slates[:4] == ("slates", 30, 2, 400)
    assert slates[4] == (
        f"30 pieces with 2 at fault: 90 % sure that at most {most} of all 400 are at fault, if "
        "they were picked at random"
    )
    share = 100 * (1 - stats.beta.ppf(0.9, 2, 21))
    assert rule_[:3] == ("gap holds", 22, 1)
    assert f"at least ≈ {share:.2f} % of all such are right" in rule_[4]

"""Reports: the same findings in every format, every outcome in each, hostile text kept as text."""

from __future__ import annotations

import csv
import enum
import io
import json
import re
import xml.etree.ElementTree as ET
from collections import Counter
from pathlib import Path

import msgspec
import pytest
from rich.cells import cell_len

from ridgerule.audit.compile import plan_for
from ridgerule.audit.evaluate import evaluate
from ridgerule.audit.findings import Audit, Outcome
from ridgerule.documents import load_document, read_document
from ridgerule.problems import Location
from ridgerule.quantities import Units
from ridgerule.record_reader import read_record
from ridgerule.reports.cautions import CAUTIONS, DISCLAIMER
from ridgerule.reports.csv_report import COLUMNS, NOTE, csv_report, csv_reports
from ridgerule.reports.formats import FORMATS
from ridgerule.reports.json_report import json_report, json_reports
from ridgerule.reports.junit_report import junit_report, junit_reports
from ridgerule.reports.sourcing import cited
from ridgerule.reports.text import text_report
from ridgerule.reports.view import FindingView, Settings, View, view_of
from ridgerule.reports.visible import in_ascii, visible
from ridgerule.rulebook import Basis, Source
from ridgerule.schemas import check
from ridgerule.shelf import Shelf
from workshop import all_listed, audit, record, rule, rulebook
from workshop import plan as plan_of

PRACTICE = """\
rulebook: practice
title: Invented practice
edition: 1
authority: The trade (invented)
sources:
  habit: {basis: common practice}
  code: {basis: published, document: Model Roof Code, edition: "2021", section: R1.2,
         recalled: true}
rules:
  - id: membrane
    title: The membrane is wide enough
    of: line.membrane_width
    when: {line.kind: {one_of: [hip, ridge]}}
    limit: {at_least: 24 in}
    evidence: {how: [cap lifted, photo during work]}
    class: critical
    why: wind drives rain under the caps
    remedy: lay a strip of the full width
    source: code
    cases: [{given: {line.kind: valley}, expect: not applicable}]
  - id: gap
    title: Slates stop clear of the centreline
    of: station.gap
    when: {line.kind: {one_of: [hip, ridge]}, line.vented: no}
    limit: {at_least: 3 1/16 in}
    aim: {equal_to: 3 1/8 in}
    class: major
    stations: {at_least: 2, one_per: 6 ft}
    why: slates grow in heat
    remedy: trim the slates back
    source: habit
    cases: [{given: {line.kind: valley}, expect: not applicable}]
  - id: spread
    title: The gap is the same all along
    of: spread station.gap
    at: line
    when: {line.kind: hip}
    limit: {at_most: 1/8 in}
    class: minor
    why: an uneven gap shows from the ground
    remedy: strike a line and trim to it
    source: habit
    cases: [{given: {line.kind: valley}, expect: not applicable}]
  - id: setback
    title: Slates are held back
    of: each station.setback
    at: station
    when: {line.kind: ridge, line.vented: yes}
    limit: {at_least: 2 in}
    class: major
    why: air has to leave
    remedy: cut back
    source: habit
    cases: [{given: {line.kind: hip}, expect: not applicable}]
  - id: drip
    title: There is a drip edge
    of: line.drip_edge
    when: {line.kind: eave}
    limit: present
    class: minor
    why: water runs back
    remedy: fit one
    source: habit
    cases: [{given: {line.kind: hip}, expect: not applicable}]
"""
COUNTY = """\
rulebook: county
title: County amendments (invented)
edition: 2026-04
based_on: [practice@1]
in_force: {from: 2026-04-01}
in_force_by: permit
sources:
  bulletin: {basis: invented, document: County bulletin 12, section: "3"}
amendments:
  - rule: gap
    limit: {at_least: 3 1/4 in}
    reason: hot summers
    source: bulletin
withdrawals:
  - rule: drip
    reason: another office looks at eaves
    source: bulletin
    permitted_by: State order 7 (invented)
"""
ROOF = """\
record: 1
roof: {id: HL-01, name: Harrow Lane Reading Room, place: Tarn County, covering: composite slate}
dates: {permit: 2026-05-02}
inspection: {date: 2026-09-14, inspector: inspector 7, temperature: 18 degC, weather: dry}
complete: {hips: all, ridges: all, eaves: all}
planes:
  S: {faces: 180 deg}
  E: {faces: 90 deg}
lines:
  H1:
    kind: hip
    between: [S, E]
    length: 18 ft
    vented: no
    membrane_width: {value: 26 in, how: stated, by: the crew}
    stations:
      - {at: 2 ft, gap: 3 1/16 in}
      - {at: 6 ft, gap: 3 3/8 in}
      - {at: 9 ft, gap: can't reach}
  R1:
    kind: ridge
    between: [S, E]
    length: 6 ft
    vented: yes
    membrane_width: {value: 9 in, how: photo during work}
    stations:
      - {at: 2 ft, setback: {S: 2 in, E: 1 3/4 in}}
      - {at: 4 ft, setback: {S: 2 in, E: 2 1/8 in}}
  E1: {kind: eave, between: [S], drip_edge: no}
"""


@pytest.fixture
def audited(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Audit:
    """Return the audit of an invented roof with every outcome, under two rulebooks."""
    monkeypatch.chdir(tmp_path)
    Path("practice@1.yaml").write_text(PRACTICE, encoding="utf-8")
    Path("county@2026-04.yaml").write_text(COUNTY, encoding="utf-8")
    Path("roof.yaml").write_text(ROOF, encoding="utf-8")
    shelf = Shelf(files=(Path("practice@1.yaml"), Path("county@2026-04.yaml")))
    plan = plan_for([("practice", Location("-")), ("county", Location("-"))], shelf)
    return evaluate(plan, read_record(load_document(Path("roof.yaml")), plan.vocabulary))


@pytest.fixture
def view(audited: Audit) -> View:
    """Return the view of the invented roof, as written."""
    return view_of(audited, settings=Settings())


def found(view: View, rule_id: str, place: str, outcome: Outcome) -> FindingView:
    """Return the first finding of a rule at a place with an outcome."""
    return next(
        finding
        for finding in view.findings
        if (finding.rule, finding.place, finding.outcome) == (rule_id, place, outcome)
    )


def shown(view: View, *, width: int = 100, show_all: bool = False, unicode: bool = True) -> str:
    """Return the text report without colour."""
    return text_report(view, width=width, colour=False, show_all=show_all, unicode=unicode)


# the view


def test_findings_stand_failures_first_by_class(view: View) -> None:
    """Failures come first, the gravest first, then what is open; numbers follow the order."""
    ranks = [(list(Outcome).index(f.outcome)) for f in view.findings]
    assert ranks == sorted(ranks)
    assert [f.severity for f in view.of(Outcome.FAIL)] == [
        "critical", "major", "major", "minor", "minor",
    ]  # fmt: skip
    assert [f.number for f in view.findings] == list(range(1, len(view.findings) + 1))


def test_every_outcome_is_in_the_view(view: View) -> None:
    """The fixture has all four outcomes, or the tests on formats would show nothing."""
    assert {f.outcome for f in view.findings} == set(Outcome)
    assert view.counts == Counter(f.outcome for f in view.findings)


def test_readings_per_side_are_told_side_by_side(view: View) -> None:
    """A fact measured per side names each side before its reading."""
    finding = found(view, "practice#setback", "ridge R1 at 2 ft", Outcome.FAIL)
    assert finding.measured == "S 2 in, E 1 3/4 in"
    assert finding.margin is not None
    assert finding.margin.text == "1/4 in short"


def test_a_reduced_value_stands_before_its_readings(view: View) -> None:
    """What many readings come to is said first; a reading that is missing leaves it open."""
    finding = found(view, "practice#spread", "hip H1", Outcome.FAIL)
    assert finding.value == "at least 5/16 in"
    assert finding.measured == "at least 5/16 in (at 2 ft: 3 1/16 in, at 6 ft: 3 3/8 in)"


def test_units_asked_for_reach_reading_limit_and_margin(audited: Audit) -> None:
    """With metric asked for, no figure of the finding is left in inches."""
    metric = view_of(audited, settings=Settings(units=Units.METRIC))
    finding = found(metric, "practice#setback", "ridge R1 at 2 ft", Outcome.FAIL)
    assert finding.measured == "S 50.8 mm, E 44.45 mm"
    assert finding.limit == "at least 50.8 mm"
    assert finding.margin is not None
    assert finding.margin.text == "6.35 mm short"


def test_missed_aim_is_a_remark_on_a_pass(view: View) -> None:
    """A reading on the limit passes; that it misses the aim is said and decides nothing."""
    finding = found(view, "practice#gap", "hip H1 at 2 ft", Outcome.PASS)
    assert finding.remark == "aim missed: 3 1/8 in"
    assert finding.margin is not None
    assert finding.margin.text == "on the limit"


def test_what_to_do_names_the_act_the_place_and_the_tool(view: View) -> None:
    """An open point says which reading to take, where, how and why it is missing."""
    finding = found(view, "practice#gap", "hip H1 at 9 ft", Outcome.NOT_VERIFIED)
    assert finding.what_to_do == (
        "Measure gap on hip H1 at 9 ft: clear between the cut edges of the field slates, square "
        "to the line, both sides in all (tape; can't reach)"
    )


def test_weak_evidence_asks_for_the_evidence_not_for_a_reading(view: View) -> None:
    """A hidden fact that is only stated asks for a lifted cap or a photo of the work."""
    finding = found(view, "practice#membrane", "hip H1", Outcome.NOT_VERIFIED)
    assert finding.what_to_do == (
        "Lift a cap or show a photo taken during the work: membrane width on hip H1 "
        "(known only as stated)"
    )


def test_too_few_stations_ask_for_more(view: View) -> None:
    """A line with too few stations read asks for more of them there."""
    finding = found(view, "practice#gap", "hip H1", Outcome.NOT_VERIFIED)
    assert finding.what_to_do.startswith("Read gap at more stations on hip H1: clear between")


def test_open_points_are_grouped_by_what_settles_them(view: View) -> None:
    """Findings that one reading would settle stand in one group, each told once."""
    groups = {group.what_to_do.partition(":")[0]: group for group in view.open_groups}
    numbers = [
        number
        for group in view.open_groups
        for open_rule in group.rules
        for point in open_rule.points
        for number in point.numbers
    ]
    assert sorted(set(numbers)) == [f.number for f in view.of(Outcome.NOT_VERIFIED)]
    (gap,) = groups["Measure gap"].rules
    assert [(len(p.numbers), p.places, p.reason) for p in gap.points] == [
        (2, ("hip H1 at 9 ft",), "can't reach")
    ]


def test_a_point_that_needs_two_acts_stands_in_both_groups() -> None:
    """A finding that lacks two facts is told under each, with how many others it needs."""
    book = rulebook(
        rule("gap", "station.gap", {"at_least": "3 in"}, when={"line.vented": "no"}),
        rule("wide", "line.membrane_width", {"at_least": "station.gap"}, at="station"),
    )
    line = {"kind": "hip", "stations": [{"at": "2 ft"}]}
    done = audit({"lines": {"H": line}, "complete": all_listed()}, book)
    groups = view_of(done, settings=Settings()).open_groups
    others = {
        group.what_to_do.partition(":")[0]: point.others
        for group in groups
        for open_rule in group.rules
        if open_rule.rule.endswith("#wide")
        for point in open_rule.points
    }
    assert others == {"Measure membrane width": 1, "Measure gap": 1}


def test_open_point_of_the_record_has_a_rule_of_its_own() -> None:
    """What the record leaves open is named after what it is about, and has no class."""
    book = rulebook(rule("gap", "line.membrane_width", {"at_least": "3 in"}))
    line = {"kind": "hip", "membrane_width": "4 in"}
    done = audit({"lines": {"H": line}}, book)
    (own, *_) = [
        f for f in view_of(done, settings=Settings()).findings if f.rule.startswith("record#")
    ]
    assert (own.rule, own.severity, own.outcome) == ("record#hips", None, Outcome.NOT_VERIFIED)
    assert "are all hips listed?" in own.what_to_do.lower()
    assert [point.places for point in _points(view_of(done, settings=Settings()), own.number)] == [
        ("roof",)
    ]


def _points(view: View, number: int) -> list:
    return [
        point
        for group in view.open_groups
        for open_rule in group.rules
        for point in open_rule.points
        if number in point.numbers
    ]


LENGTH = "line.membrane_width"
MARGINS = [
    (LENGTH, {"at_least": "3 in"}, "2 15/16 in", "1/16 in short"),
    (LENGTH, {"at_least": "3 in"}, "3 in", "on the limit"),
    (LENGTH, {"at_least": "3 in"}, "3 1/8 in", "1/8 in to spare"),
    (LENGTH, {"at_most": "3 in"}, "3 1/8 in", "1/8 in over"),
    (LENGTH, {"at_most": "3 in"}, "74 mm", "2.2 mm to spare"),
    (LENGTH, {"between": ["3 in", "4 in"]}, "2 7/8 in", "1/8 in short"),
    (LENGTH, {"between": ["3 in", "4 in"]}, "4 1/4 in", "1/4 in over"),
    (LENGTH, {"between": ["3 in", "4 in"]}, "3 1/4 in", "1/4 in to spare"),
    (LENGTH, {"equal_to": "3 in", "within": "1/8 in"}, "3 1/4 in", "outside by 1/8 in"),
    (LENGTH, {"equal_to": "3 in", "within": "1/8 in"}, "3 1/8 in", "on the limit"),
    (LENGTH, {"equal_to": "3 in"}, "3 1/4 in", "off by 1/4 in"),
    (LENGTH, {"equal_to": "3 in"}, "3 in", "equal"),
    (LENGTH, {"one_of": ["3 in", "4 in"]}, "3 1/4 in", "off by 1/4 in"),
    (LENGTH, {"none_of": ["3 in", "4 in"]}, "3 in", None),
    (LENGTH, {"not": {"at_most": "3 in"}}, "3 in", "on the limit, and must be past it"),
    (LENGTH, {"not": {"at_most": "3 in"}}, "2 in", "1 in short"),
    (LENGTH, {"not": {"at_least": "3 in"}}, "4 in", "1 in over"),
    (LENGTH, {"all_of": [{"at_least": "3 in"}, {"at_most": "4 in"}]}, "5 in", "1 in over"),
    (LENGTH, {"any_of": [{"at_most": "1 in"}, {"at_least": "4 in"}]}, "3 in", "outside by 1 in"),
    ("line.drip_edge", "present", "no", None),
    ("delivery.caps", {"at_least": "12"}, 9, "3 short"),
    ("delivery.caps", {"at_most": "12"}, 15, "3 over"),
    ("delivery.caps", {"at_least": "12"}, 13, "1 to spare"),
    ("delivery.date", {"at_least": "2026-03-05"}, "2026-03-02", "3 days early"),
    ("delivery.date", {"at_most": "2026-03-05"}, "2026-03-06", "1 day late"),
    ("roof.air_temperature", {"at_least": "50 degF"}, "41 degF", "9 degF short"),
    ("roof.air_temperature", {"at_least": "50 degF"}, "12 degC", "2 degC to spare"),
    ("plane.slope", {"at_least": "4:12"}, "3:12", "1:12 short"),
]


def _holding(fact: str, value: object) -> dict[str, object]:
    """Return a record in which one place says `value` of `fact`."""
    element, name = fact.split(".")
    if fact == "roof.air_temperature":
        return {"inspection": {"temperature": value}}
    if element == "line":
        return {"lines": {"H": {"kind": "hip", name: value}}}
    return {{"plane": "planes", "delivery": "deliveries"}[element]: {"A": {name: value}}}


@pytest.mark.parametrize(("fact", "limit", "value", "words"), MARGINS)
def test_margins_are_words_not_signs(
    fact: str, limit: object, value: object, words: str | None
) -> None:
    """A margin says how much and on which side, in the units the reading was written in."""
    done = audit(_holding(fact, value), rulebook(rule("r", fact, limit)))
    (finding,) = [
        f
        for f in view_of(done, settings=Settings()).findings
        if f.outcome in (Outcome.PASS, Outcome.FAIL)
    ]
    assert (finding.margin.text if finding.margin else None) == words


def test_margin_table_is_whole() -> None:
    """Every phrase a margin can be put into stands in the table above."""
    assert len(MARGINS) == 28
    said = " | ".join(words for *_, words in MARGINS if words)
    for phrase in ("short", "over", "to spare", "outside by", "off by", "early", "late", "equal"):
        assert phrase in said


def test_margin_by_a_table_takes_its_rows_side() -> None:
    """Where a table sets the limit, the row that applies tells short from over."""
    table = {
        "table": {
            "by": ["line.kind"],
            "rows": [
                {"for": ["hip"], "limit": {"at_least": "3 in"}},
                {"for": ["ridge"], "limit": {"at_most": "2 in"}},
            ],
        }
    }
    lines = {
        "H": {"kind": "hip", "membrane_width": "2 in"},
        "R": {"kind": "ridge", "membrane_width": "3 in"},
    }
    done = audit({"lines": lines}, rulebook(rule("r", LENGTH, table)))
    for units, words in ((None, "1 in"), (Units.METRIC, "25.4 mm")):
        seen = view_of(done, settings=Settings(units=units))
        told = {f.place: f.margin.text for f in seen.of(Outcome.FAIL) if f.margin}
        assert told == {"hip H": f"{words} short", "ridge R": f"{words} over"}
    assert {f.limit for f in seen.of(Outcome.FAIL)} == {"at least 76.2 mm", "at most 50.8 mm"}


def test_a_fact_as_limit_is_told_with_its_value_in_the_units_asked_for() -> None:
    """A limit that names a fact says what the fact is here, in the same units."""
    book = rulebook(rule("r", LENGTH, {"at_least": "line.drip_edge_back"}))
    line = {"kind": "hip", "membrane_width": "2 in", "drip_edge_back": "3 in"}
    done = audit({"lines": {"H": line}}, book)
    seen = view_of(done, settings=Settings(units=Units.METRIC))
    (finding,) = seen.of(Outcome.FAIL)
    expected = "at least line.drip_edge_back (line.drip_edge_back is 76.2 mm)"
    assert finding.limit == expected


SOURCES = [
    (Source(Basis.COMMON_PRACTICE), "common practice, no source"),
    (
        Source(Basis.PUBLISHED, "Model Roof Code", "2021", "R905.2.5", recalled=True),
        "Model Roof Code 2021, R905.2.5 (recalled, confirm against the document)",
    ),
    (
        Source(Basis.INVENTED, "County bulletin 12", "", "3"),
        "invented: County bulletin 12, section 3",
    ),
    (Source(Basis.FIRM_POLICY), "firm policy"),
    (Source(Basis.MANUFACTURER, "Cap sheet", "4"), "manufacturer: Cap sheet 4"),
]


@pytest.mark.parametrize(("source", "words"), SOURCES)
def test_sources_are_cited_in_words(source: Source, words: str) -> None:
    """A source says its basis, and that a recalled value has to be confirmed."""
    assert cited(source) == words


# text


@pytest.mark.parametrize("width", [40, 80, 120])
@pytest.mark.parametrize("show_all", [False, True])
@pytest.mark.parametrize("unicode", [False, True])
def test_no_line_is_longer_than_the_page(
    view: View, width: int, show_all: bool, unicode: bool
) -> None:
    """Every line fits, has no trailing space, and without colour holds no escape code."""
    text = shown(view, width=width, show_all=show_all, unicode=unicode)
    lines = text.split("\n")
    assert len(lines) > 60
    assert max(cell_len(line) for line in lines) <= width
    assert text.endswith("\n")
    assert not any(line.endswith(" ") for line in lines)
    assert "\x1b" not in text
    assert unicode or text.isascii()


def test_colour_adds_nothing_but_escape_codes(view: View) -> None:
    """Taking the colours out of the report gives the report without colour."""
    coloured = text_report(view, width=80, colour=True, show_all=False)
    assert "\x1b[1;31m✗ FAIL" in coloured
    plain = re.sub(r"\x1b\[[0-9;]*m", "", coloured)
    assert "".join(f"{line.rstrip()}\n" for line in plain.splitlines()) == shown(view, width=80)


def test_environment_changes_no_byte(view: View, monkeypatch: pytest.MonkeyPatch) -> None:
    """Neither the terminal's variables nor its size reach the report."""
    before = text_report(view, width=80, colour=True, show_all=False)
    for name, value in {"COLUMNS": "33", "NO_COLOR": "1", "TERM": "dumb"}.items():
        monkeypatch.setenv(name, value)
    assert text_report(view, width=80, colour=True, show_all=False) == before


def test_open_points_stand_as_high_as_failures(view: View) -> None:
    """The line under the head counts what is not verified beside what failed."""
    text = shown(view)
    failed, unverified = view.counts[Outcome.FAIL], view.counts[Outcome.NOT_VERIFIED]
    assert f"✗ {failed} failed   ? {unverified} not verified   ✓" in text
    assert text.index("FAILURES (") < text.index("NOT VERIFIED (") < text.index("PASSES (")


def test_a_failure_says_all_that_a_roofer_needs(view: View) -> None:
    """A failure's block has its class, place, figures, why, remedy, source and amendment."""
    text = shown(view, width=120)
    block = text[text.index("3.   ✗ FAIL major  hip H1 at 2 ft") : text.index("4.   ✗ FAIL")]
    for said in (
        "Slates stop clear of the centreline",
        "found        3 1/16 in",
        "must be      at least 3 1/4 in: 3/16 in short",
        "why          slates grow in heat",
        "remedy       trim the slates back",
        "source       common practice, no source",
        "county@2026-04: hot summers (invented: County bulletin 12, section 3)",
        "traced to    roof.yaml:17 against county@2026-04.yaml:11",
    ):
        assert said in block


def test_show_all_lists_passes_and_what_does_not_apply(view: View) -> None:
    """Passes are summed up by rule unless all are asked for, and then listed with margins."""
    line = "hip H1 at 2 ft: 3 1/16 in; must be at least 3 1/16 in: on the limit"
    assert line not in shown(view, width=120)
    assert line in shown(view, width=120, show_all=True)
    assert "Slates stop clear of the centreline: 2 places" in shown(view, width=120)


def test_no_report_promises_what_it_cannot(view: View) -> None:
    """No format calls a roof compliant, certified or safe."""
    reports = [shown(view, show_all=True), *(write([view]) for write in FORMATS.values())]
    assert len(reports) == 4
    for report in reports:
        assert not re.search(r"complian|certified|\bsafe\b|approved", report, re.IGNORECASE)


# every format


def test_formats_are_one_visible_table() -> None:
    """The table names the formats that data is handed on in."""
    assert list(FORMATS) == ["json", "csv", "junit"]


def test_every_format_has_the_outcomes_and_ends_with_what_it_is(view: View) -> None:
    """Each format tells failures and open points, the disclaimer and the cautions."""
    reports = {"text": shown(view, width=4000)}
    reports |= {name: write([view]) for name, write in FORMATS.items()}
    for name, report in reports.items():
        for outcome in (Outcome.FAIL, Outcome.NOT_VERIFIED):
            assert outcome.value in report.lower(), name
        plain = report.replace("&gt;", ">")
        assert all(said in plain for said in (DISCLAIMER, *CAUTIONS)), name


def test_same_audit_gives_the_same_bytes(audited: Audit) -> None:
    """Two views of one audit, and two audits of one record, print alike in every format."""
    again = evaluate(audited.plan, audited.record)
    first, second = (view_of(a, settings=Settings(show_all=True)) for a in (audited, again))
    assert first == second
    assert shown(first) == shown(second)
    for write in FORMATS.values():
        assert write([first]) == write([second])


# data


def test_json_keeps_to_its_schema(view: View) -> None:
    """One report, and a list of them, hold the schema; a missing key breaks it."""
    for text in (json_report(view), json_reports([view, view]), json_reports([view])):
        assert check(read_document(text.encode(), name="report.json"), "report") == ()
    data = json.loads(json_report(view))
    del data["findings"][0]["margin"]
    data["findings"][1]["outcome"] = "fine"
    told = check(read_document(json.dumps(data).encode(), name="report.json"), "report")
    assert len(told) == 2
    assert any("`margin`" in problem.expected for problem in told)


def test_json_of_every_kind_of_margin_and_value_keeps_to_its_schema() -> None:
    """Exact fractions, open spans, enclosures and dates all have a place in the schema."""
    book = rulebook(
        rule("count", "count station.gap", {"at_most": 0}, at="line"),
        rule("slope", "plane.slope", {"at_least": "7:12"}),
        rule("date", "delivery.date", {"at_most": "2026-01-01"}),
        rule("kind", "line.kind", {"one_of": ["ridge"]}),
    )
    data = {
        "planes": {"S": {"slope": "30 deg"}},
        "lines": {
            "H": {"kind": "hip", "stations": [{"at": "1 ft", "gap": "3 in"}, {"at": "2 ft"}]}
        },
        "deliveries": {"D": {"date": "2026-02-01"}},
    }
    text = json_report(view_of(audit(data, book), settings=Settings()))
    assert check(read_document(text.encode(), name="report.json"), "report") == ()
    exact = [m["exact"] for f in json.loads(text)["findings"] for m in f["measured"]]
    assert {tuple(value) if value else () for value in exact} == {
        (), ("exact", "unit"), ("value", "bound", "unit"),
    }  # fmt: skip


def test_json_says_what_the_contract_names(view: View) -> None:
    """Counts, provenance, digests, exact SI values and the record's pointer are there."""
    data = json.loads(json_report(view))
    assert data["report"] == 1
    assert data["counts"] == {o.value: view.counts[o] for o in Outcome}
    assert [book["id"] for book in data["rulebooks"]] == ["practice", "county"]
    county = data["rulebooks"][1]
    assert county["withdrawn"][0]["rule"] == "practice#drip"
    assert county["note"] == "in force from 2026-04-01, by the permit date 2026-05-02"
    finding = next(f for f in data["findings"] if f["amended_by"] and f["outcome"] == "fail")
    assert finding["path"] == "/lines/H1/stations/0"
    # 3 1/16 in is 3.0625 x 0.0254 m (NIST SP 811: 1 in = 0.0254 m exactly).
    assert finding["measured"][0]["exact"] == {"exact": "6223/80000", "unit": "m"}
    assert finding["margin"]["exact"] == {"exact": "-381/80000", "unit": "m"}
    assert finding["statement"] == "fail"
    origins = {origin["field"]: origin for origin in finding["provenance"]}
    assert origins["limit"]["rulebook"] == "county@2026-04"
    assert origins["of"]["rulebook"] == "practice@1"
    assert {f["statement"] for f in data["findings"] if f["outcome"] == "not verified"} == {None}


def rows_of(text: str) -> list[dict[str, str]]:
    """Return the rows of a CSV report."""
    return list(csv.DictReader(io.StringIO(text)))


def test_csv_is_the_punch_list(view: View) -> None:
    """Failures and open points have a row each, then what the list is; passes have none."""
    rows = rows_of(csv_report(view))
    assert tuple(rows[0]) == COLUMNS
    told = Counter(row["outcome"] for row in rows)
    assert told == {
        "fail": view.counts[Outcome.FAIL],
        "not verified": view.counts[Outcome.NOT_VERIFIED],
        NOTE: 1 + len(CAUTIONS),
    }
    assert all(row["what to do"] for row in rows if row["outcome"] != NOTE)
    assert {row["done"] for row in rows} == {""}


def test_csv_of_several_roofs_has_one_header_and_one_closing(view: View) -> None:
    """Several roofs share a header and a closing, and each row names its roof."""
    other = msgspec.structs.replace(view, roof=msgspec.structs.replace(view.roof, id="HL-02"))
    rows = rows_of(csv_reports([view, other]))
    assert {row["roof"] for row in rows} == {"HL-01", "HL-02", ""}
    assert sum(row["title"] == DISCLAIMER for row in rows) == 1
    assert all(row["outcome"] != "outcome" for row in rows)


@pytest.mark.parametrize(
    "start", ["=", "+", "-", "@", "\t=", "\r=", " =", "\N{FULLWIDTH EQUALS SIGN}"]
)
def test_csv_guards_against_formulas(view: View, start: str) -> None:
    """A cell that a spreadsheet would compute starts with an apostrophe."""
    text = f"{start}HYPERLINK(1)"
    roof = msgspec.structs.replace(view.roof, id=text)
    first = rows_of(csv_report(msgspec.structs.replace(view, roof=roof)))[0]
    assert first["roof"] == f"'{visible(text).strip()}"


def test_junit_counts_add_up(view: View) -> None:
    """Each rulebook is a suite whose counts are those of its cases, open ones skipped."""
    root = ET.fromstring(junit_report(view))  # noqa: S314 - our own text
    suites = list(root)
    assert [suite.get("name") for suite in suites] == ["practice@1", "county@2026-04"]
    for suite, book in zip(suites, view.by_book, strict=True):
        cases = suite.findall("testcase")
        assert len(cases) == int(suite.get("tests", "")) == sum(book.counts.values())
        assert len(suite.findall("testcase/failure")) == book.counts[Outcome.FAIL]
        assert int(suite.get("failures", "")) == book.counts[Outcome.FAIL]
        skipped = [case.get("message", "") for case in suite.findall("testcase/skipped")]
        assert int(suite.get("skipped", "")) == len(skipped)
        told = Counter(message.partition(":")[0] for message in skipped)
        assert told["not verified"] == book.counts[Outcome.NOT_VERIFIED]
        assert told["not applicable"] == book.counts[Outcome.NOT_APPLICABLE]
    assert int(root.get("tests", "")) == sum(int(suite.get("tests", "")) for suite in suites)
    assert root.find(".//property[@name='disclaimer']").get("value") == DISCLAIMER


def test_junit_of_several_roofs_names_each(view: View) -> None:
    """Several roofs share a root, and each suite names its roof."""
    root = ET.fromstring(junit_reports([view, view]))  # noqa: S314 - our own text
    assert [suite.get("name") for suite in root][:2] == [
        "HL-01: practice@1",
        "HL-01: county@2026-04",
    ]
    assert len(root) == 4


# hostile text

WHOLE = "[red]x[/] <b>&\"'</b> ]]> \x1b[31m\x00\x9b2J\u202eevil\u2066 \ufffe \U000e0041"
HOSTILE = f"{WHOLE}\ud800"
"""With half a surrogate pair, which no file that is read can hold, and canonical JSON neither."""
UNSEEN = re.compile(
    "[\x00-\x09\x0b-\x1f\x7f-\x9f\u200e\u200f\u202a-\u202e\u2066-\u2069\ud800-\udfff]"
)


def poisoned(value: object, text: str = HOSTILE) -> object:
    """Return a view with hostile text in every field that holds text."""
    if isinstance(value, tuple):
        return tuple(poisoned(item, text) for item in value)
    if isinstance(value, str) and not isinstance(value, enum.Enum):
        return f"{value}{text}"
    if not isinstance(value, msgspec.Struct) or isinstance(value, (type, Settings)):
        return value
    fields = {name: poisoned(getattr(value, name), text) for name in value.__struct_fields__}
    return msgspec.structs.replace(value, **fields)


@pytest.fixture
def hostile(view: View) -> View:
    """Return the view with hostile text in every field, but the names rulebooks are counted by."""
    return made_hostile(view, HOSTILE)


@pytest.fixture
def hostile_but_whole(view: View) -> View:
    """Return the same with whole characters alone, as JSON has it from the files that are read."""
    return made_hostile(view, WHOLE)


def made_hostile(view: View, text: str) -> View:
    """Return the view with a text in every field, but the names that the visit is told under."""
    bad = poisoned(view, text)
    assert isinstance(bad, View)
    visit = zip(dict(view.inspection), dict(bad.inspection).values(), strict=True)
    return msgspec.structs.replace(bad, inspection=tuple(visit))


@pytest.mark.parametrize("unicode", [False, True])
@pytest.mark.parametrize("colour", [False, True])
def test_hostile_text_is_shown_not_obeyed_on_a_terminal(
    hostile: View, unicode: bool, colour: bool
) -> None:
    """Markup stays as written, escapes and direction marks are spelt out, lines still fit."""
    text = text_report(hostile, width=100, colour=colour, show_all=True, unicode=unicode)
    plain = re.sub(r"\x1b\[[0-9;]*m", "", text) if colour else text
    assert not UNSEEN.search(plain)
    assert plain.count("[red]x[/]") > 30
    assert r"\x1b[31m" in plain
    assert r"\u202e" in plain
    assert max(cell_len(line) for line in plain.split("\n")) <= 100
    assert "\x1b[31mx" not in text
    text.encode("utf-8")


@pytest.mark.parametrize("name", list(FORMATS))
def test_hostile_text_is_harmless_in_data(
    hostile: View, hostile_but_whole: View, name: str
) -> None:
    """No data format holds a control character, a direction mark or half a surrogate pair."""
    text = FORMATS[name]([hostile_but_whole if name == "json" else hostile])
    assert not UNSEEN.search(text)
    assert text.encode("utf-8")


def test_hostile_text_comes_back_whole_from_json(hostile_but_whole: View) -> None:
    """What JSON escapes reads back as it was."""
    data = json.loads(json_report(hostile_but_whole))
    assert data["roof"]["name"] == hostile_but_whole.roof.name
    assert data["findings"][0]["title"].endswith(WHOLE)


def test_hostile_text_leaves_junit_well_formed(hostile: View) -> None:
    """Tags and characters that XML has no place for stay text."""
    root = ET.fromstring(junit_report(hostile))  # noqa: S314 - our own text
    case = root.find(".//testcase")
    assert case is not None
    assert "<b>&\"'</b> ]]>" in case.get("name", "")
    assert r"\x00" in case.get("name", "")


def test_hostile_text_from_a_record_reaches_the_report_as_text() -> None:
    """A record's own names, in brackets and with a direction mark, print as they were written."""
    book = plan_of(rulebook(rule("r", "line.membrane_width", {"at_least": "3 in"})))
    name = "[bold]A[/bold] \u202e:smile:"
    line = {"kind": "hip", "membrane_width": "2 in"}
    done = evaluate(book, record({"roof": {"id": "T", "name": name}, "lines": {"H": line}}, book))
    text = shown(view_of(done, settings=Settings()))
    assert r"[bold]A[/bold] \u202e:smile: (T)" in text


def test_visible_folds_line_ends_and_spells_out_the_unseen() -> None:
    """A text of several lines becomes one; what can't be seen becomes its escape."""
    assert visible("a \n  b\tc\u00a0d  e") == "a b c d  e"
    assert visible("a\x07\u200f") == r"a\x07\u200f"
    assert in_ascii("≈ 2 in² \N{EN DASH} é") == r"~ 2 in2 - \xe9"


def test_long_words_are_folded_and_none_of_them_is_lost(view: View) -> None:
    """A name without a space runs over as many lines as it needs, whole."""
    name = "".join(f"<{i}>" for i in range(200))
    roof = msgspec.structs.replace(view.roof, name=name)
    document = msgspec.structs.replace(view.document, name=name)
    bad = msgspec.structs.replace(view, roof=roof, document=document)
    text = shown(bad, width=80)
    assert max(cell_len(line) for line in text.split("\n")) <= 80
    assert re.sub(r"\s", "", text).count(name) == 3


@pytest.mark.parametrize("width", range(60, 130, 7))
def test_no_line_breaks_inside_a_quantity(view: View, width: int) -> None:
    """`3 1/16 in` broken after the 3 would be read as 1/16 in."""
    text = shown(view, width=width, show_all=True)
    assert "3 1/16 in" in text
    assert not re.search(r"[0-9]\n *(?:[0-9]+/[0-9]|in\b|ft\b)", text)


def test_csv_cites_the_source_of_an_amended_figure(view: View) -> None:
    """Where a limit was amended, the row says by whom and on what source."""
    sources = {row["source"] for row in rows_of(csv_report(view)) if row["outcome"] == "fail"}
    assert (
        "common practice, no source; amended by county@2026-04: hot summers "
        "(invented: County bulletin 12, section 3)"
    ) in sources


def test_withdrawals_are_told_of_the_rulebook_that_made_them() -> None:
    """A rulebook based on one that withdraws a rule is not said to withdraw it."""
    root = rulebook(rule("r", LENGTH, {"at_least": "3 in"}), name="test/root@1")
    gone = {"rule": "r", "reason": "a test", "source": "us", "permitted_by": "nobody"}
    middle = rulebook(name="test/middle@1", based_on=["test/root@1"], withdrawals=[gone])
    leaf = rulebook(
        rule("s", LENGTH, {"at_least": "3 in"}), name="test/leaf@1", based_on=["test/middle@1"]
    )
    done = audit({"lines": {"H": {"kind": "hip", "membrane_width": "4 in"}}}, leaf, middle, root)
    books = view_of(done, settings=Settings()).books
    assert {book.name: [rule.rule for rule in book.withdrawn] for book in books} == {
        "test/leaf@1": [],
        "test/middle@1": ["test/root#r"],
        "test/root@1": [],
    }


EVIDENCE = [
    (
        {"photo": True},
        {"value": "4 in", "how": "measured"},
        "Show a photo: membrane width on hip H",
    ),
    (
        {"how": ["seen", "photo during work", "document"], "photo": True},
        {"value": "4 in", "how": "photo during work"},
        "Show a photo: membrane width on hip H (none in the record)",
    ),
    (
        {"how": ["seen", "cap lifted"]},
        {"value": "4 in", "how": "photo during work"},
        "Show it by seeing it or lifting a cap: membrane width on hip H (known only as photo",
    ),
    (
        {"how": ["measured"]},
        "unknown",
        (
            "Measure membrane width on hip H: strip edge to strip edge across the line, total "
            "(tape; unknown; accepted: measured)"
        ),
    ),
]


@pytest.mark.parametrize(("evidence", "reading", "words"), EVIDENCE)
def test_evidence_that_is_lacking_is_asked_for(
    evidence: object, reading: object, words: str
) -> None:
    """A photo is asked for where only the photo lacks, another way of knowing where that does."""
    book = rulebook(rule("r", LENGTH, {"at_least": "3 in"}, evidence=evidence))
    done = audit({"lines": {"H": {"kind": "hip", "membrane_width": reading}}}, book)
    told = [f.what_to_do for f in view_of(done, settings=Settings()).findings if "#r" in f.rule]
    assert any(said.startswith(words) for said in told), told


def test_a_gap_in_a_table_is_no_reading_to_take() -> None:
    """Where a table has no row for the roof, the rulebook is what lacks, and is said to."""
    rows = [{"for": ["ridge"], "limit": {"at_most": "2 in"}}]
    book = rulebook(rule("r", LENGTH, {"table": {"by": ["line.kind"], "rows": rows}}))
    done = audit({"lines": {"H": {"kind": "hip", "membrane_width": "2 in"}}}, book)
    told = [f.what_to_do for f in view_of(done, settings=Settings()).findings if f.place == "hip H"]
    assert told == ["Hip H: the table has no row for hip"]


def test_of_many_readings_those_that_decide_are_told_first() -> None:
    """A failure over many readings tells the one that fails, and counts those it leaves out."""
    gaps = ["3 in"] * 9 + ["2 in"]
    stations = [{"at": f"{i} ft", "gap": gap} for i, gap in enumerate(gaps, start=1)]
    book = rulebook(rule("r", "each station.gap", {"at_least": "3 in"}, at="line"))
    done = audit({"lines": {"H": {"kind": "hip", "stations": stations}}}, book)
    seen = view_of(done, settings=Settings())
    (finding,) = seen.of(Outcome.FAIL)
    assert finding.measured.startswith("at 10 ft: 2 in, at 1 ft: 3 in, ")
    assert finding.measured.endswith(" and 4 more")
    assert len(finding.readings) == 10
    assert "and 6 more against" in shown(seen, width=120)


def test_a_limit_by_the_nearest_has_no_margin() -> None:
    """A value that is or is not the nearest of a list lies at no distance from a limit."""
    nearest = {"nearest_of": {"to": "line.angle", "values": ["120 deg", "160 deg"]}}
    book = rulebook(rule("r", "line.cap_profile", nearest))
    line = {"kind": "hip", "angle": "130 deg", "cap_profile": "160 deg"}
    done = audit({"lines": {"H": line}}, book)
    for units in (None, Units.METRIC):
        (finding,) = view_of(done, settings=Settings(units=units)).of(Outcome.FAIL)
        assert finding.margin is None
        assert finding.reason == "nearest is 120 deg"
        assert finding.limit == (
            "the nearest to line.angle of 120 deg, 160 deg (line.angle is 130 deg)"
        )


def test_long_lists_of_reasons_are_cut_unless_all_is_asked_for(view: View) -> None:
    """What does not apply is told by its commonest reasons, and the rest is counted."""
    apart = view.of(Outcome.NOT_APPLICABLE)[0]
    many = tuple(msgspec.structs.replace(apart, reason=f"reason {i}") for i in range(12))
    seen = msgspec.structs.replace(view, findings=many)
    assert "4 findings: 4 other reasons" in shown(seen)
    assert "reason 11" not in shown(seen)
    assert "reason 11" in shown(seen, show_all=True)

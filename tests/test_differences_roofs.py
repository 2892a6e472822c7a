"""What a change of rulebooks does to recorded roofs: finding by finding, place by place, and why.

The rulebooks written here are invented, and no figure in them means anything.
"""

from __future__ import annotations

import json
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

import roofs as made
from ridgerule.audit.compile import plan_for
from ridgerule.audit.evaluate import evaluate
from ridgerule.audit.findings import CONFLICT, Outcome
from ridgerule.audit.strictness import Strictness
from ridgerule.cli.inputs import Asked, Auditor
from ridgerule.problems import Location
from ridgerule.proof.differences import differences
from ridgerule.proof.differences_facts import Kind
from ridgerule.proof.differences_roofs import RoofChange, Roofs, Turn, pinned, roof_change
from ridgerule.reports.differences_data import differences_data
from ridgerule.reports.differences_roofs_sheet import why_words
from ridgerule.reports.differences_sheet import differences_sheet
from ridgerule.reports.page import Page
from ridgerule.reports.sheet_markdown import as_markdown
from ridgerule.reports.sheet_text import as_text
from ridgerule.shelf import Shelf
from workshop import all_listed, amendment, plan, record, rule, rulebook

if TYPE_CHECKING:
    from ridgerule.audit.plan import Edition
    from ridgerule.proof.differences import Differences

FIXTURES = Path(__file__).parent.parent / "fixtures"
HIP = {"line.kind": "hip"}
Told = tuple[str, str, str | None, str | None]


def edition(text: str, *more: str) -> Edition:
    """Return a rulebook from its text, compiled; the others are those it is based on."""
    return plan(text, *more).books[0].editions[0]


def shipped(name: str) -> Edition:
    """Return a shipped rulebook, compiled."""
    return plan_for([(name, Location("test"))], Shelf()).books[0].editions[0]


def held(
    roof: dict[str, Any] | str | Path, old: Edition, new: Edition
) -> tuple[RoofChange, Differences]:
    """Return what comes out otherwise of a record, given as data, text or file."""
    audits = []
    for against in (pinned(old, new), pinned(new, old)):
        if isinstance(roof, Path):
            auditor = Auditor(Asked((old.book.name,)), planned=lambda *_, plan=against: plan)
            audits.append(auditor.audit(roof))
        else:
            audits.append(evaluate(against, record(roof, against)))
    found = differences(old, new)
    return roof_change(found, *audits), found


def told(change: RoofChange) -> list[Told]:
    """Return each finding that comes out otherwise: rule, place, what it was and what it is."""
    return [
        (
            each.difference.check.rule.id if each.difference else "the record",
            each.place.label,
            each.was.value if each.was else None,
            each.now.value if each.now else None,
        )
        for each in change.findings
    ]


def line(**fields: object) -> dict[str, Any]:
    """Return a roof with one hip whose stations stand at 2 ft and 9 ft."""
    stations = [{"at": "2 ft", "gap": "3 in"}, {"at": "9 ft", "gap": "4 in"}]
    hip = {"kind": "hip", "between": ["S", "E"], "stations": stations, **fields}
    planes = {"S": {"faces": "180 deg"}, "E": {"faces": "90 deg"}}
    return {"planes": planes, "lines": {"H1": hip}, "complete": all_listed()}


GAP = rule("gap", "station.gap", {"at_least": "3 in"}, when=HIP)


def gap(**fields: object) -> dict[str, Any]:
    """Return the rule on the gap with some of its fields replaced."""
    return {**GAP, **fields}


def test_the_demo_roof_by_the_maker_and_by_the_county() -> None:
    """What the invented county adds and changes turns out on the demo roof as its file says."""
    change, _ = held(
        FIXTURES / "demo/harrow-lane.yaml",
        shipped("demo/tarnfell-slate@2026-01"),
        shipped("demo/tarn-county@2026-04"),
    )
    assert (change.before.outcome, change.after.outcome) == (Outcome.FAIL, Outcome.FAIL)
    assert not change.is_changed
    assert [each for each in told(change) if "pass" not in each[2:] or "fail" in each[2:]] == [
        ("cricket", "opening C1", None, "fail"),
        ("free-area", "attic main", None, "fail"),
        ("free-area-balance", "attic main", None, "fail"),
        ("ice-barrier-inside", "plane E", None, "fail"),
        ("ice-barrier-inside", "plane N", None, "not verified"),
        ("opening-flashing-thickness", "opening P1", None, "fail"),
        ("county-drip-edge", "eave E6", None, "fail"),
        ("snow-guards", "eave E3", None, "not verified"),
        ("station-spread", "hip H4", None, "fail"),
        ("membrane-width", "hip H1", "pass", "fail"),
        ("colour-matched", "ridge R2", "fail", "not applicable"),
        ("colour-matched", "valley V2", "not verified", "not applicable"),
    ]
    turns = [each.turn for each in change.findings]
    assert [turns.count(turn) for turn in Turn] == [10, 2, 34]
    rest = told(change)[12:]
    assert {each[2:] for each in rest} == {(None, "pass"), ("pass", "not applicable")}


def test_the_findings_name_readings_limits_and_margins() -> None:
    """The page says of each place what was read, against which limit it was and is held."""
    old, new = shipped("demo/tarnfell-slate@2026-01"), shipped("demo/tarn-county@2026-04")
    change, found = held(FIXTURES / "demo/harrow-lane.yaml", old, new)
    sheet = differences_sheet(found, Roofs((change,)))
    page = as_text(sheet, Page(width=120, colour=False, unicode=True))
    assert (
        "  rule     membrane-width: pass → FAIL\n"
        "  because  must be: at least 9 in → at least 12 in\n"
        "  at       hip H1: 9 in (photo during work); must be at least 9 in, on the limit → must "
        "be at least 12 in, 3 in short\n"
    ) in page
    assert "roofs              1 held against both: none comes out otherwise, 1 more in" in page
    assert "whatever the dates in its record say" in " ".join(page.split())


def test_every_fixture_roof_by_the_code_of_2021_and_2024() -> None:
    """Composite slate is outside what the two editions differ in: nothing comes out otherwise."""
    old, new = shipped("code/model-residential@2021"), shipped("code/model-residential@2024")
    files = [file for file in sorted(FIXTURES.glob("*/*.yaml")) if "@" not in file.name]
    files = [file for file in files if "broken" not in file.parts]
    files = [file for file in files if "covering: composite slate" in file.read_text("utf-8")]
    assert len(files) >= 5
    for file in files:
        change, _ = held(file, old, new)
        assert change.before.outcome is change.after.outcome
        assert change.findings == ()


def test_a_shingle_roof_by_the_code_of_2021_and_2024() -> None:
    """The underlayment that 2024 names passes, and the ice barrier's length is asked no more."""
    planes = {
        "S": {"slope": "9:12", "faces": "180 deg", "underlayment": "D8257",
              "ice_barrier": made.shown("yes"), "ice_barrier_inside": "30 in",
              "ice_barrier_up": "30 in"},
    }  # fmt: skip
    roof = {
        "roof": {"id": "T-1", "covering": "asphalt shingle", "building": "dwelling",
                 "ice_dams": "yes"},
        "planes": planes,
    }  # fmt: skip
    change, _ = held(
        roof, shipped("code/model-residential@2021"), shipped("code/model-residential@2024")
    )
    assert told(change) == [
        ("ice-barrier-up", "plane S", "fail", None),
        ("underlayment-standard", "plane S", "fail", "pass"),
    ]
    assert [each.turn for each in change.findings] == [Turn.BETTER, Turn.BETTER]
    assert [why_words(each) for each in change.findings] == [
        "the rule is gone",
        "must be: another row of its table",
    ]
    assert change.is_changed
    assert change.after.outcome is Outcome.NOT_VERIFIED


def test_dates_do_not_pick_the_editions() -> None:
    """A roof whose permit is older than both editions is held against both all the same."""
    old = edition(rulebook(gap(), name="test/house@1", in_force={"from": "2030-01-01"},
                           in_force_by="permit"))  # fmt: skip
    new = edition(rulebook(gap(limit={"at_least": "4 in"}), name="test/house@2",
                           in_force={"from": "2031-01-01"}, in_force_by="permit"))  # fmt: skip
    change, found = held(line() | {"dates": {"permit": "2020-01-01"}}, old, new)
    assert told(change) == [("gap", "hip H1 at 2 ft", "pass", "fail")]
    assert change.before.outcome is Outcome.PASS
    assert "whatever the dates in its record say" in differences_data(found, Roofs((change,)))
    undated, _ = held(line(), old, new)
    assert told(undated) == told(change)


def test_what_is_said_of_a_whole_line_goes_for_its_stations() -> None:
    """Where a line decided for all its stations, each is told with what was said of the line."""
    old = edition(rulebook(gap(when={"line.kind": "ridge"})))
    new = edition(rulebook(gap(limit={"at_least": "4 in"})))
    change, _ = held(line(), old, new)
    assert told(change) == [
        ("gap", "hip H1 at 2 ft", "not applicable", "fail"),
        ("gap", "hip H1 at 9 ft", "not applicable", "pass"),
    ]
    back, _ = held(line(), new, old)
    assert told(back) == [
        ("gap", "hip H1 at 2 ft", "fail", "not applicable"),
        ("gap", "hip H1 at 9 ft", "pass", "not applicable"),
    ]


def test_what_is_said_of_the_roof_goes_for_its_places() -> None:
    """A rule out of scope for the roof was not applicable at each place that it is now asked at."""
    slate = {"roof": {"id": "T-1", "covering": "composite slate"}}
    old = edition(rulebook(gap(scope={"covering": "clay tile"})))
    new = edition(rulebook(gap(limit={"at_least": "4 in"})))
    change, _ = held(line() | slate, old, new)
    assert told(change) == [
        ("gap", "hip H1 at 2 ft", "not applicable", "fail"),
        ("gap", "hip H1 at 9 ft", "not applicable", "pass"),
    ]


def test_what_the_roof_leaves_open_goes_for_its_places() -> None:
    """A scope that is not known left every place open; that is told at each, and once only."""
    old = edition(rulebook(gap(scope={"covering": "composite slate"})))
    new = edition(rulebook(gap(limit={"at_least": "4 in"})))
    change, _ = held(line(), old, new)
    assert told(change) == [
        ("gap", "hip H1 at 2 ft", "not verified", "fail"),
        ("gap", "hip H1 at 9 ft", "not verified", "pass"),
    ]
    back, _ = held(line(), new, old)
    assert told(back) == [
        ("gap", "hip H1 at 9 ft", "pass", "not verified"),
        ("gap", "hip H1 at 2 ft", "fail", "not verified"),
    ]


def test_what_the_roof_lacks_goes_for_no_place_that_is_there() -> None:
    """That no ridge is recorded says nothing of the hip, whose stations are too few now."""
    lines = {"when": {"line.kind": {"one_of": ["hip", "ridge"]}}}
    roof = line() | {"complete": {"hips": "all", "planes": "all"}}
    old = edition(rulebook(gap(**lines)))
    new = edition(rulebook(gap(**lines, stations={"at_least": 3})))
    change, _ = held(roof, old, new)
    assert change.before.outcome is Outcome.NOT_VERIFIED
    assert told(change) == [("gap", "hip H1", None, "not verified")]


def test_a_shortage_of_stations_is_told_at_the_line() -> None:
    """Too few stations is a finding of the line itself, beside those of its stations."""
    old, new = edition(rulebook(gap())), edition(rulebook(gap(stations={"at_least": 3})))
    change, _ = held(line(), old, new)
    assert told(change) == [("gap", "hip H1", None, "not verified")]
    assert [why_words(each) for each in change.findings] == [
        "stations: any number → at least 3 on each line"
    ]
    back, _ = held(line(), new, old)
    assert told(back) == [("gap", "hip H1", "not verified", None)]
    assert [each.turn for each in back.findings] == [Turn.BETTER]


def test_a_rule_unchanged_may_come_out_otherwise() -> None:
    """Where only a computed fact is computed otherwise, that is told as the reason."""

    def house(part: str) -> Edition:
        derive = {
            "station.gap_part": {
                "dimension": "length", "measure": "a part", "product": ["station.gap", part],
            }
        }  # fmt: skip
        asked = rule("part", "station.gap_part", {"at_least": "1 1/2 in"}, when=HIP)
        return edition(rulebook(asked, derive=derive))

    change, _ = held(line(), house("1:2"), house("3:8"))
    assert told(change) == [("part", "hip H1 at 2 ft", "pass", "fail")]
    (finding,) = change.findings
    assert why_words(finding) == "rests on: station gap part, no longer the same"


def test_a_renamed_rule_is_compared_with_itself() -> None:
    """A rule under another id that asks the same turns nothing out otherwise."""
    change, _ = held(line(), edition(rulebook(gap())), edition(rulebook(gap(id="clearance"))))
    assert change.findings == ()


def test_a_withdrawal_and_a_return_are_told_at_every_place() -> None:
    """A rule withdrawn does not apply where it failed before; back again, it fails there."""
    base = rulebook(gap(limit={"at_least": "4 in"}), name="test/base@1")
    taken = amendment("gap", reason="nobody asks", permitted_by="the office")
    plain = edition(rulebook(name="test/local@1", based_on=["test/base@1"]), base)
    without = edition(
        rulebook(name="test/local@2", based_on=["test/base@1"], withdrawals=[taken]), base
    )
    change, _ = held(line(), plain, without)
    assert told(change) == [
        ("gap", "hip H1 at 2 ft", "fail", "not applicable"),
        ("gap", "hip H1 at 9 ft", "pass", "not applicable"),
    ]
    assert why_words(change.findings[0]) == "withdrawn by test/local@2: nobody asks"
    back, _ = held(line(), without, plain)
    assert [each[2:] for each in told(back)] == [
        ("not applicable", "fail"),
        ("not applicable", "pass"),
    ]
    assert why_words(back.findings[0]) == "the rule is back"
    both, _ = held(line(), without, without)
    assert both.findings == ()


def test_open_points_of_the_record_are_told() -> None:
    """Where rules are asked at kinds of place that a record does not list in full, that is told."""
    planes = rule("lap", "plane.exposure", {"at_most": "9 in"})
    roof = line()
    roof["complete"] = {"hips": "all"}
    roof["planes"] = {"S": {"faces": "180 deg", "exposure": "8 in"},
                      "E": {"faces": "90 deg", "exposure": "8 in"}}  # fmt: skip
    old, new = edition(rulebook(gap())), edition(rulebook(gap(), planes))
    change, found = held(roof, old, new)
    assert told(change) == [
        ("the record", "roof", None, "not verified"),
        ("lap", "plane S", None, "pass"),
        ("lap", "plane E", None, "pass"),
    ]
    assert change.is_changed
    assert why_words(change.findings[0]) == "rules are asked there"
    back, _ = held(roof, new, old)
    assert why_words(back.findings[0]) == "no rule is asked there any more"
    data = json.loads(differences_data(found, Roofs((change,))))
    (finding, *_) = data["records"]["roofs"][0]["findings"]
    assert finding["rule"] == "the record: planes"


def test_facts_of_the_other_rulebook_can_be_read() -> None:
    """A record that speaks of a fact that only one of the two declares is read for both."""
    facts = {"line.over_walk": {"dimension": "yes or no", "measure": "people walk below"}}
    new = edition(rulebook(gap(), rule("walk", "line.over_walk", "absent"), facts=facts))
    change, _ = held(line(over_walk="yes"), edition(rulebook(gap())), new)
    assert told(change) == [("walk", "hip H1", None, "fail")]


def test_limits_that_cannot_both_be_met_are_told() -> None:
    """A limit that another excludes is an open point of its own, told once whatever the figures."""

    def house(most: str) -> Edition:
        return edition(rulebook(gap(), rule("narrow", "station.gap", {"at_most": most}, when=HIP)))

    roof = line(stations=[{"at": "2 ft", "gap": "3 in"}])
    change, found = held(roof, house("4 in"), house("2 in"))
    assert told(change) == [
        ("narrow", "hip H1 at 2 ft", "pass", "fail"),
        ("the record", "hip H1 at 2 ft", None, "not verified"),
    ]
    assert why_words(change.findings[1]) == "no value meets two of its limits"
    sheet = differences_sheet(found, Roofs((change,)))
    page = as_text(sheet, Page(width=80, colour=False, unicode=True))
    assert "the rulebook: limits that can be met together" in " ".join(page.split())
    both, _ = held(roof, house("2 in"), house("1 in"))
    assert both.findings == ()
    back, _ = held(roof, house("2 in"), house("4 in"))
    assert why_words(back.findings[1]) == "one value meets all limits"


def test_hostile_words_of_a_record_stay_words() -> None:
    """What a record calls its roof is shown as it is: no markup, no escape, no turned writing."""
    name = "[red]x[/red] <b>y</b> | `z` \u202e"
    roof = line() | {"roof": {"id": "T-1", "name": name}}
    change, found = held(roof, edition(rulebook(gap())), edition(rulebook()))
    sheet = differences_sheet(found, Roofs((change,), (f"lost {name}.yaml",)))
    page = as_text(sheet, Page(width=120, colour=False, unicode=True))
    assert "T-1, [red]x[/red] <b>y</b> | `z` \\u202e (roof.json)" in page
    assert "\u202e" not in page + as_markdown(sheet) + differences_data(found, Roofs((change,)))
    assert "<b>" not in as_markdown(sheet)


KEYS = {
    "": "differences tool old new strictness counts rulebook rules facts coverages records "
    "disclaimer",
    "rules": "change rule was_rule title class strictness demands judged_at applies_where "
    "written_for source never_applies fields facts withdrawn other_cases written_at",
    "fields": "field was now strictness rows",
    "facts": "change fact computed may_decide fields rules",
    "coverages": "change coverage title fields",
    "records": "applied outcomes roofs unused",
    "roofs": "file digest id name was now findings",
    "findings": "rule place path direction why was now",
    "side": "outcome measured limit margin reason",
}
"""The keys of the data, as its own documentation names them."""


def test_the_data_has_the_keys_it_says_it_has() -> None:
    """Every part of the data has its documented keys, in their order, and exact values."""
    old, new = shipped("demo/tarnfell-slate@2026-01"), shipped("demo/tarn-county@2026-04")
    change, found = held(FIXTURES / "demo/harrow-lane.yaml", old, new)
    data = json.loads(differences_data(found, Roofs((change,), ("lost.yaml",))))
    (roof,) = data["records"]["roofs"]
    turned = next(each for each in roof["findings"] if each["was"] and each["now"])
    parts = {
        "": data,
        "rules": data["rules"][0],
        "fields": next(each for each in data["rules"] if each["fields"])["fields"][0],
        "facts": data["facts"][0],
        "coverages": data["coverages"][0],
        "records": data["records"],
        "roofs": roof,
        "findings": turned,
        "side": turned["was"],
    }
    assert {name: " ".join(part) for name, part in parts.items()} == KEYS
    assert data["differences"] == 1
    assert data["records"]["unused"] == ["lost.yaml"]
    assert data["records"]["outcomes"] == [{"was": "fail", "now": "fail", "roofs": 1}]
    (membrane,) = (each for each in roof["findings"] if each["rule"].endswith("membrane-width"))
    assert membrane == {
        "rule": "practice/hip-and-ridge#membrane-width",
        "place": "hip H1",
        "path": "/lines/H1",
        "direction": "worse",
        "why": "must be: at least 9 in → at least 12 in",
        "was": {"outcome": "pass", "measured": "9 in (photo during work)",
                "limit": "at least 9 in", "margin": "on the limit", "reason": ""},
        "now": {"outcome": "fail", "measured": "9 in (photo during work)",
                "limit": "at least 12 in", "margin": "3 in short", "reason": ""},
    }  # fmt: skip
    documented = (Path(differences_data.__code__.co_filename)).read_text(encoding="utf-8")
    for key in {key for keys in KEYS.values() for key in keys.split()}:
        assert f"`{key}`" in documented


# What hypothesis draws rules from: every fact in them is recorded on the roofs of `roofs.py`.
LENGTHS = st.sampled_from(["0 in", "1/2 in", "3 in", "3 1/16 in", "3 1/8 in", "8 in", "9 in"])
LIMITS = st.one_of(
    LENGTHS.map(lambda least: {"at_least": least}),
    LENGTHS.map(lambda most: {"at_most": most}),
    st.tuples(LENGTHS, LENGTHS).map(lambda ends: {"any_of": [
        {"at_least": ends[0]}, {"equal_to": ends[1]}]}),
    st.tuples(LENGTHS, LENGTHS).map(lambda ends: {"not": {"equal_to": ends[0]},
                                                  "at_most": ends[1]}),
)  # fmt: skip
WHENS = st.sampled_from(
    [
        {},
        {"when": {"line.kind": "hip"}},
        {"when": {"line.kind": {"one_of": ["hip", "ridge"]}}},
        {"when": {"line.kind": "hip", "line.flashed": "yes"}},
        {"when": {"line.kind": "hip", "line.cap_profile": {"at_most": "130 deg"}}},
        {"when": {"not": {"line.cap_profile": {"at_most": "130 deg"}}}},
        {"when": {"each plane.slope": {"at_least": "8:12"}}},
    ]
)
SCOPES = st.sampled_from(
    [{}, {"scope": {"covering": "composite slate"}}, {"scope": {"covering": "clay tile"}}]
)
STATIONS = st.sampled_from([{}, {"stations": {"at_least": 3}}, {"stations": {"one_per": "2 ft"}}])
CLASSES = st.sampled_from(["minor", "major"])
OF = st.sampled_from(["station.gap", "station.cap_exposure"])


@st.composite
def rules(draw: st.DrawFn) -> list[dict[str, Any]]:
    """Return up to three rules on the stations of a line."""
    ids = draw(st.lists(st.sampled_from("abc"), unique=True, min_size=1))
    return [
        rule(id_, draw(OF), draw(LIMITS), on="line", class_=draw(CLASSES),
             **draw(WHENS), **draw(SCOPES), **draw(STATIONS))
        for id_ in ids
    ]  # fmt: skip


def only_stricter(
    before: list[dict[str, Any]], after: list[dict[str, Any]]
) -> list[dict[str, Any]]:
    """Return the rules before, with those changes and additions that no roof is better off by."""
    kept = {each["id"]: each for each in before}
    new = {each["id"]: each for each in after}
    found = differences(edition(rulebook(*before)), edition(rulebook(*after)))
    for each in found.told:
        harmless = each.strictness in (Strictness.STRICTER, Strictness.WORDING)
        if harmless and each.kind in (Kind.CHANGED, Kind.ADDED):
            kept[each.check.rule.id] = new[each.check.rule.id]
    return list(kept.values())


@given(rules(), rules(), st.integers(0, 40), st.booleans())
def test_stricter_rules_make_no_finding_better(
    before: list[dict[str, Any]], after: list[dict[str, Any]], seed: int, faulty: bool
) -> None:
    """On a roof with all recorded, stricter rules better nothing and looser ones worsen nothing."""
    old = edition(rulebook(*before))
    new = edition(rulebook(*only_stricter(before, after), name="test/house@2"))
    assert differences(old, new).strictness in (Strictness.STRICTER, Strictness.WORDING)
    assert differences(new, old).strictness in (Strictness.LOOSER, Strictness.WORDING)
    roof = made.faulty_roof(seed) if faulty else made.sound_roof(seed)
    there, _ = held(roof, old, new)
    back, _ = held(roof, new, old)
    assert Turn.BETTER not in {each.turn for each in there.findings}
    assert Turn.WORSE not in {each.turn for each in back.findings}
    assert len(there.findings) == len(back.findings)


@given(rules(), st.lists(LIMITS, min_size=3, max_size=3), st.integers(0, 40), st.booleans())
def test_single_limits_turn_findings_the_way_they_say(
    before: list[dict[str, Any]], limits: list[object], seed: int, faulty: bool
) -> None:
    """Where limits alone change, each rule's findings turn as the change of that rule says."""
    after = [{**each, "limit": limit} for each, limit in zip(before, limits, strict=False)]
    old, new = edition(rulebook(*before)), edition(rulebook(*after, name="test/house@2"))
    roof = made.faulty_roof(seed) if faulty else made.sound_roof(seed)
    change, _ = held(roof, old, new)
    for each in change.findings:
        if each.difference is None:  # limits of one fact that can't both be met
            assert CONFLICT in (each.before or each.after).about
            continue
        assert (
            each.difference.strictness
            in {
                Turn.WORSE: (Strictness.STRICTER, Strictness.DIFFERENT),
                Turn.BETTER: (Strictness.LOOSER, Strictness.DIFFERENT),
            }[each.turn]
        )


@pytest.mark.parametrize("seed", range(20))
def test_stricter_evidence_passes_nothing_that_failed(seed: int) -> None:
    """A reading that no longer shows what it says leaves a failure open, and passes none."""
    of, limit = "line.membrane_width", {"at_least": "8 in"}
    old = edition(rulebook(rule("m", of, limit, when=HIP)))
    evidence = {"how": ["cap lifted"]}
    new = edition(rulebook(rule("m", of, limit, when=HIP, evidence=evidence)))
    assert differences(old, new).strictness is Strictness.STRICTER
    change, _ = held(made.faulty_roof(seed), old, new)
    assert {each.now for each in change.findings} == {Outcome.NOT_VERIFIED}

"""The rulebooks that ship: each compiles, each rule proves itself, each source is complete."""

from __future__ import annotations

from types import MappingProxyType
from typing import TYPE_CHECKING

import pytest

from ridgerule.audit.cases import run_cases
from ridgerule.audit.compile import plan_for
from ridgerule.audit.evaluate import evaluate
from ridgerule.audit.expressions import Derivation, Interval, Looked
from ridgerule.audit.findings import Outcome
from ridgerule.audit.limits import Table
from ridgerule.audit.words import limit_words
from ridgerule.documents import Document, load_document, read_document
from ridgerule.enclosures import low
from ridgerule.facts import Element
from ridgerule.problems import Location
from ridgerule.quantities import Quantity
from ridgerule.record_reader import read_record, record_of
from ridgerule.rulebook import Basis
from ridgerule.schemas import check
from ridgerule.shelf import Shelf, digests
from ridgerule.shipped import PROVED, proved_digests, shipped
from ridgerule.trade.ventilation import SQUARE_INCH, rounded

if TYPE_CHECKING:
    from collections.abc import Iterator

    from ridgerule.audit.findings import Finding
    from ridgerule.audit.plan import Check, Edition, Plan
    from ridgerule.documents import Data
    from ridgerule.record import Record
    from ridgerule.rulebook import Source

PRACTICE = "practice/hip-and-ridge@2026-11"
CODE_2021 = "code/model-residential@2021"
CODE_2024 = "code/model-residential@2024"
MAKER = "demo/tarnfell-slate@2026-01"
COUNTY = "demo/tarn-county@2026-04"

# Rules and cases as they stand with every base laid under them, and rules of the file's own.
COUNTS = {
    PRACTICE: (34, 224, 34),
    CODE_2021: (27, 174, 27),
    CODE_2024: (26, 167, 26),
    MAKER: (50, 306, 16),
    COUNTY: (79, 489, 3),
}


def planned(*references: str) -> Plan:
    """Return the plan of shipped rulebooks."""
    return plan_for([(reference, Location("test")) for reference in references], Shelf())


PLANS = {reference: planned(reference) for reference in COUNTS}


def edition(reference: str) -> Edition:
    """Return the one edition that a full reference names."""
    (book,) = PLANS[reference].books
    (only,) = book.editions
    return only


def check_of(reference: str, rule: str) -> Check:
    """Return a rulebook's rule, compiled, by its id."""
    return next(check for check in edition(reference).checks if check.rule.id == rule)


RULES = [
    pytest.param(reference, check, id=f"{reference}#{check.rule.id}")
    for reference in COUNTS
    for check in edition(reference).checks
]


def test_every_shipped_file_is_counted_here() -> None:
    """The files in the rulebooks folder are the ones that this module tests, no more, no fewer."""
    root = shipped("rulebooks")
    files = {file.relative_to(root).with_suffix("").as_posix() for file in root.rglob("*.yaml")}
    assert files == COUNTS.keys()
    assert set(Shelf().names()) == COUNTS.keys()


def test_all_compile_side_by_side() -> None:
    """Every shipped rulebook compiles into one plan: no fact of one clashes with another's."""
    plan = planned(*COUNTS)
    assert {book.name for book in plan.rulebooks()} == COUNTS.keys()


@pytest.mark.parametrize("reference", COUNTS)
def test_counts(reference: str) -> None:
    """Each rulebook has exactly the rules and cases written down here, so none gets lost."""
    checks = edition(reference).checks
    cases = sum(len(check.cases) for check in checks)
    own = len(edition(reference).book.rules)
    assert (len(checks), cases, own) == COUNTS[reference]


def test_the_collector_found_every_rule() -> None:
    """The tests by rule run over 216 rules, with 1360 cases, in five rulebooks."""
    assert len(RULES) == sum(rules for rules, _, _ in COUNTS.values()) == 216
    assert sum(cases for _, cases, _ in COUNTS.values()) == 1360


@pytest.mark.parametrize(("reference", "check"), RULES)
def test_cases_come_out_as_written(reference: str, check: Check) -> None:
    """Every case of a rule comes out as its author expects."""
    results = run_cases(check, PLANS[reference].vocabulary)
    surprises = [
        f"{result.case.location}: {result.finding.outcome}, {result.finding.reason}"
        for result in results
        if not result.as_expected
    ]
    assert results
    assert surprises == []


@pytest.mark.parametrize(("reference", "check"), RULES)
def test_cases_show_both_sides(reference: str, check: Check) -> None:
    """Every rule shows itself passing, failing and not verified; with a `when`, not applicable."""
    expected = {case.expect for case in check.cases}
    due = {Outcome.PASS, Outcome.FAIL, Outcome.NOT_VERIFIED}
    assert expected == (due | {Outcome.NOT_APPLICABLE} if check.when else due)


@pytest.mark.parametrize(("reference", "check"), RULES)
def test_a_title_has_a_reason_and_a_remedy(reference: str, check: Check) -> None:
    """Title, why and remedy are sentences of their own: the title without a full stop."""
    rule = check.rule
    assert rule.text("title")[0].isupper()
    assert not rule.text("title").endswith(".")
    assert rule.text("why").endswith(".")
    assert rule.text("remedy").endswith(".")


def sources_of(reference: str) -> Iterator[Source]:
    """Yield the source of every rule and every change that a rulebook's own file makes."""
    book = edition(reference).book
    yield from (rule.source for rule in book.rules)
    yield from (change.source for change in book.changes)


@pytest.mark.parametrize("reference", [CODE_2021, CODE_2024])
def test_code_sources_are_recalled(reference: str) -> None:
    """A code source names document, edition and section, and says that it is recalled."""
    for source in sources_of(reference):
        assert source.basis is Basis.PUBLISHED
        assert source.document == "International Residential Code"
        assert source.edition == edition(reference).book.edition
        assert source.section.startswith("R")
        assert source.recalled
        assert source.note.startswith("confirm against the edition in force")


def test_practice_sources_are_common_practice() -> None:
    """The practice rulebook rests on common practice alone and says so: no source."""
    for source in sources_of(PRACTICE):
        assert source.basis is Basis.COMMON_PRACTICE
        assert source.note.startswith("no source")
        assert not source.document


@pytest.mark.parametrize("reference", [MAKER, COUNTY])
def test_demo_sources_are_invented(reference: str) -> None:
    """The demo rulebooks, their authorities and documents call themselves invented."""
    book = edition(reference).book
    assert "(invented)" in book.title
    assert "(invented)" in book.authority
    for source in sources_of(reference):
        assert source.basis is Basis.INVENTED
        assert "(invented)" in source.document


def test_own_tolerances_are_owned() -> None:
    """Figures that the trade does not give are told apart as the rulebook's own choice."""
    chosen = {
        check.rule.id
        for check in edition(PRACTICE).checks
        if "this rulebook's own choice" in check.rule.source.note
    }
    assert chosen == {
        "field-gap",
        "gap-even",
        "vented-setback",
        "first-cap-overhang",
        "cap-exposure-as-field",
        "angle-agrees",
    }


# Common practice, no source: the figures of the trade.
FIGURES = {
    "field-gap": "at least 3 1/16 in",
    "vented-setback": "at least 2 in",
    "membrane-width": "at least 8 in",
    "membrane-standard": "D1970",
    "two-fasteners-field": "2",
    "two-fasteners-hip": "2",
    "field-penetration": "at least 3/4 in or station.through_deck is yes",
    "cap-penetration": "at least 3/4 in or station.through_deck is yes",
    "cap-exposure-most": "at most 10 in",
    "first-cap-overhang": "1/2 in, within 1/8 in",
}


@pytest.mark.parametrize(("rule", "figure"), FIGURES.items())
def test_practice_figures(rule: str, figure: str) -> None:
    """The practice rulebook asks for the trade's figures (common practice, no source)."""
    assert limit_words(check_of(PRACTICE, rule).limit) == figure


def test_gap_aim() -> None:
    """The gap aimed for is 3 1/8 in (common practice, no source)."""
    aim = check_of(PRACTICE, "field-gap").aim
    assert aim is not None
    assert limit_words(aim) == "3 1/8 in"


def chart(kind: str) -> list[tuple[str, str]]:
    """Return the chart's rows for one kind of line, in words."""
    derivation = PLANS[PRACTICE].vocabulary.by_name["line.cap_by_chart"].derivation
    assert isinstance(derivation, Derivation)
    assert isinstance(derivation.expression, Looked)
    rows = derivation.expression.table.rows
    words = [(*map(limit_words, row.keys), limit_words(row.limit)) for row in rows]
    assert len(words) == 6
    return [(slope, profile) for kind_of_line, slope, profile in words if kind_of_line == kind]


def test_hip_cap_chart() -> None:
    """Hips take the 160, 120 and 90 degree cap by slope (common practice, no source)."""
    assert chart("hip") == [
        ("at most 5:12", "160 deg"),
        ("6:12 to 14:12", "120 deg"),
        ("at least 15:12", "90 deg"),
    ]


def test_ridge_cap_chart() -> None:
    """Ridges take the 160, 120 and 90 degree cap by slope (common practice, no source)."""
    assert chart("ridge") == [
        ("at most 4:12", "160 deg"),
        ("5:12 to 10:12", "120 deg"),
        ("at least 11:12", "90 deg"),
    ]


def reasons(rule: str, kind: str, slope: str) -> set[str]:
    """Return why a rule's cases of one kind of line and slope are not verified."""
    results = run_cases(check_of(PRACTICE, rule), PLANS[PRACTICE].vocabulary)
    return {
        result.finding.reason
        for result in results
        if result.finding.outcome is Outcome.NOT_VERIFIED
        and result.case.given.get("line.kind") == kind
        and result.case.given.get("plane.slope") == slope
    }


# Recomputed: square hip at 6:12 acos(0.8) from 180, 143.13; at 15:12 112.97; at 20:12 105.35;
# ridge at 10:12 100.39.
DISAGREEMENTS = {
    ("hip", "6:12"): ("120 deg", "160 deg"),
    ("hip", "15:12"): ("90 deg", "120 deg"),
    ("hip", "20:12"): ("90 deg", "120 deg"),
    ("ridge", "10:12"): ("120 deg", "90 deg"),
}


@pytest.mark.parametrize(("place", "ways"), DISAGREEMENTS.items())
def test_a_disagreement_names_both_ways(place: tuple[str, str], ways: tuple[str, str]) -> None:
    """Where chart and nearest angle differ, the finding is not verified and names both."""
    (reason,) = reasons("cap-chart-and-angle", *place)
    said = f"they disagree: {ways[0]} by line.cap_by_chart, {ways[1]} by line.cap_by_angle"
    assert said in reason


def test_a_gap_in_the_chart_is_named() -> None:
    """At 5.5:12 the chart has no row, and the finding says so."""
    (reason,) = reasons("cap-chart-and-angle", "hip", "5.5:12")
    assert "the table has no row for hip, 5.5:12" in reason


def test_a_tie_names_both() -> None:
    """A measured angle as near to two profiles names both of them."""
    results = run_cases(check_of(PRACTICE, "cap-by-measured-angle"), PLANS[PRACTICE].vocabulary)
    (tie,) = (r.finding for r in results if r.case.given.get("line.angle") == "140 deg")
    assert "160 deg and 120 deg are as near as each other" in tie.reason


# Recalled from the model code: confirm against the edition in force.
CODE_FIGURES = {
    "shingle-nail-shank": "at least 0.105 in",
    "shingle-nail-head": "at least 3/8 in",
    "shingle-nail-depth": "at least 3/4 in or station.through_deck is yes",
    "drip-edge-lap": "at least 2 in",
    "drip-edge-below": "at least 1/4 in",
    "drip-edge-back": "at least 2 in",
    "drip-edge-spacing": "at most 12 in",
    "slate-two-fasteners": "at least 2",
    "opening-flashing-thickness": "at least 0.019 in",
    "wall-flashing-thickness": "at least 0.019 in",
    "ice-barrier-inside": "at least 24 in",
    "vent-openings": "1/16 in to 1/4 in",
    "air-over-insulation": "at least 1 in",
}


@pytest.mark.parametrize("reference", [CODE_2021, CODE_2024])
@pytest.mark.parametrize(("rule", "figure"), CODE_FIGURES.items())
def test_code_figures(reference: str, rule: str, figure: str) -> None:
    """Both editions ask for the figures recalled from the model code."""
    assert limit_words(check_of(reference, rule).limit) == figure


@pytest.mark.parametrize("reference", [CODE_2021, CODE_2024])
def test_least_slopes(reference: str) -> None:
    """The least slopes by covering are those recalled from the model code, R905."""
    limit = check_of(reference, "least-slope").limit
    assert isinstance(limit, Table)
    assert [(limit_words(row.keys[0]), limit_words(row.limit)) for row in limit.rows] == [
        ("asphalt shingle", "at least 2:12"),
        ("clay tile or concrete tile", "at least 2.5:12"),
        ("natural slate", "at least 4:12"),
        ("wood shingle", "at least 3:12"),
        ("wood shake", "at least 3:12"),
    ]


def test_only_2021_asks_for_the_barrier_along_the_slope() -> None:
    """From 8:12 up, 36 in along the slope stands in the 2021 edition alone (recalled)."""
    assert limit_words(check_of(CODE_2021, "ice-barrier-up").limit) == "at least 36 in"
    in_2021, in_2024 = (
        {check.rule.id for check in edition(reference).checks}
        for reference in (CODE_2021, CODE_2024)
    )
    assert in_2021 - in_2024 == {"ice-barrier-up"}
    assert not in_2024 - in_2021


# Written for coverings that composite slate is not; the scope of each must say so.
FOR_OTHER_COVERINGS = {
    "least-slope",
    "underlayment-standard",
    "ice-barrier",
    "ice-barrier-inside",
    "shingle-nails",
    "shingle-nail-metal",
    "shingle-nail-shank",
    "shingle-nail-head",
    "shingle-nail-depth",
    "drip-edge",
    "drip-edge-lap",
    "drip-edge-below",
    "drip-edge-back",
    "drip-edge-spacing",
    "slate-two-fasteners",
}
COVERED = """
record: 1
roof: {id: R, covering: COVERING, building: dwelling, ice_dams: yes}
dates: {permit: 2026-05-01, installation: 2026-06-01}
planes:
  S:
    slope: "2:12"
    underlayment: none
    fastener: staple
    fastener_metal: bare steel
    fastener_shank: 0.1 in
    fastener_head: 1/4 in
    ice_barrier: {value: no, how: photo during work}
    stations: [{at: by the eave, fasteners: 1, through_deck: no, penetration: 1/2 in}]
lines:
  E: {kind: eave, between: [S], drip_edge: yes, drip_edge_lap: 1 in, drip_edge_below: 0 in,
      drip_edge_back: 1 in, drip_edge_spacing: 20 in}
"""


def findings(reference: str, covering: str) -> dict[str, list[Finding]]:
    """Return what a rulebook finds, by rule, on a badly laid roof with a covering."""
    plan = PLANS[reference]
    text = COVERED.replace("COVERING", covering)
    record = read_record(read_document(text.encode(), name="record.yaml"), plan.vocabulary)
    found: dict[str, list[Finding]] = {}
    for finding in evaluate(plan, record).findings:
        if finding.rule is not None:
            found.setdefault(finding.rule.id, []).append(finding)
    return found


def judged(found: list[Finding]) -> bool:
    """Tell whether a rule was asked, rather than set aside as out of scope."""
    return not all(finding.reason.startswith("out of scope") for finding in found)


@pytest.mark.parametrize("reference", [CODE_2021, CODE_2024])
def test_no_section_for_another_covering_judges_composite_slate(reference: str) -> None:
    """On composite slate every such section is one not-applicable finding, out of scope."""
    found = findings(reference, "composite slate")
    set_aside = {rule for rule, made in found.items() if not judged(made)}
    expected = set(FOR_OTHER_COVERINGS)
    if reference == CODE_2021:
        expected.add("ice-barrier-up")
    assert set_aside == expected
    assert all(
        [finding.outcome for finding in found[rule]] == [Outcome.NOT_APPLICABLE]
        for rule in expected
    )


@pytest.mark.parametrize("reference", [CODE_2021, CODE_2024])
def test_shingle_sections_do_judge_shingles(reference: str) -> None:
    """The same badly laid roof in asphalt shingles fails the sections written for them."""
    found = findings(reference, "asphalt shingle")
    failed = {
        rule
        for rule, made in found.items()
        if any(finding.outcome is Outcome.FAIL for finding in made)
    }
    assert failed >= {rule for rule in FOR_OTHER_COVERINGS if rule.startswith("shingle-")}
    assert failed >= {rule for rule in FOR_OTHER_COVERINGS if rule.startswith("drip-edge-")}
    assert not judged(found["slate-two-fasteners"])
    assert not judged(found["instructions-at-hand"])


def ventilated(reference: str, **attic: Data) -> tuple[Record, Plan]:
    """Return a record of one attic with these facts, and the plan of a code that reads it."""
    plan = planned(reference)
    data: dict[str, Data] = {
        "record": 1,
        "roof": {"id": "attic", "covering": "asphalt shingle", "building": "dwelling"},
        "attics": {"A": attic},
    }
    document = Document("attic", data, "", MappingProxyType({}), MappingProxyType({}))
    return record_of(document, plan.vocabulary), plan


def square_inches(record: Record, plan: Plan, fact: str) -> int:
    """Return a computed area of the one attic in whole square inches, as permits print it."""
    derivation = plan.vocabulary.by_name[fact].derivation
    assert isinstance(derivation, Derivation)
    value = derivation(record, record.by_id[Element.ATTIC, "A"]).value
    assert isinstance(value, Quantity)
    whole = low(rounded(value.amount))
    assert whole is not None
    return int(whole / SQUARE_INCH)


@pytest.mark.parametrize("reference", [CODE_2021, CODE_2024])
def test_required_areas_are_those_of_permits(reference: str) -> None:
    """1/150 and 1/300 of a vented area come to what two permits print."""
    # Zephyrhills FL permit plan B1: 2,377 ft2, 2,282 in2 at 1/150 and 1,141 in2 at 1/300.
    record, plan = ventilated(reference, vented_area="2377 ft2")
    assert square_inches(record, plan, "attic.required_at_150") == 2282
    assert square_inches(record, plan, "attic.required_at_300") == 1141
    # Prior Lake MN permit record, 2002, building 1: 10,600 ft2 at 1/300 needs 5,088 in2.
    record, plan = ventilated(reference, vented_area="10600 ft2")
    assert square_inches(record, plan, "attic.required_at_300") == 5088


@pytest.mark.parametrize("reference", [CODE_2021, CODE_2024])
def test_the_half_up_high_is_literal(reference: str) -> None:
    """591 in2 up high, 51.8 % of what 1/300 requires, is over the literal 50 %.

    Zephyrhills FL permit plan B1, where the office accepted it; the area down low is made up.
    """
    record, plan = ventilated(
        reference,
        vented_area="2377 ft2",
        free_area_high="591 in2",
        free_area_low="600 in2",
        high_vents_below_ridge="0 in",
    )
    found = {f.rule.id: f.outcome for f in evaluate(plan, record).findings if f.rule}
    assert found["free-area-balance"] is Outcome.FAIL
    assert found["free-area"] is Outcome.FAIL  # 1/150, whatever the climate zone


def test_panel_marks_are_ranges() -> None:
    """The maker's panels range as PS 1 has them (recalled), and a 3/4 panel holds 3/4 in inside."""
    derivation = PLANS[MAKER].vocabulary.by_name["plane.deck_by_mark"].derivation
    assert isinstance(derivation, Derivation)
    assert isinstance(derivation.expression, Interval)
    ends = []
    for end in (derivation.expression.least, derivation.expression.greatest):
        assert isinstance(end, Looked)
        ends.append({limit_words(r.keys[0]): limit_words(r.limit) for r in end.table.rows})
    assert {mark: (least, ends[1][mark]) for mark, least in ends[0].items()} == {
        "15/32": ("0.438 in", "0.500 in"),
        "1/2": ("0.469 in", "0.531 in"),
        "19/32": ("0.563 in", "0.625 in"),
        "5/8": ("0.594 in", "0.656 in"),
        "23/32": ("0.688 in", "0.750 in"),
        "3/4": ("0.719 in", "0.781 in"),
        "7/8": ("0.831 in", "0.919 in"),
    }


def test_the_county_widens_only_the_ice_barrier() -> None:
    """The county brings composite slate under the ice barrier, and under no shingle section."""
    found = findings(COUNTY, "composite slate")
    widened = {"ice-barrier", "ice-barrier-inside"}
    assert all(judged(found[rule]) for rule in widened)
    assert not any(judged(found[rule]) for rule in FOR_OTHER_COVERINGS - widened)
    assert [finding.outcome for finding in found["ice-barrier"]] == [Outcome.FAIL]


def test_the_maker_changes_four_rules_of_practice() -> None:
    """The demo maker's amendments carry a reason and leave the rule's origin as it was."""
    checks = [check for check in edition(MAKER).checks if check.rule.changes]
    assert {check.rule.id: limit_words(check.limit) for check in checks} == {
        "membrane-width": "at least 9 in",
        "gap-even": "at most 3/16 in",
        "vented-setback": "at least 2 1/4 in",
        "cap-exposure-most": "at most 9 in",
    }
    assert all(check.rule.book == PRACTICE for check in checks)
    assert all(change.reason for check in checks for change in check.rule.changes)


def test_the_county_changes_what_the_maker_changed() -> None:
    """The membrane's width goes from 8 in to 9 in to 12 in, and the rule names both changes."""
    rule = check_of(COUNTY, "membrane-width").rule
    assert [change.book for change in rule.changes] == [MAKER, COUNTY]
    assert limit_words(check_of(COUNTY, "membrane-width").limit) == "at least 12 in"


def test_the_county_withdraws_one_rule_by_permission() -> None:
    """The county's one withdrawal says who permits it, and the maker still has the rule."""
    (gone,) = edition(COUNTY).adapted.withdrawn
    assert gone.id == "colour-matched"
    assert gone.changes[-1].permitted_by.startswith("Tarnfell (invented)")
    assert check_of(MAKER, "colour-matched").rule.id == "colour-matched"


def test_the_county_amends_five_rules() -> None:
    """The county amends five rules, each with a reason and a source."""
    changes = [change for change in edition(COUNTY).book.changes if not change.withdraws]
    assert [change.rule for change in changes] == [
        "membrane-width",
        "field-gap",
        "code/model-residential#ice-barrier",
        "code/model-residential#ice-barrier-inside",
        "code/model-residential#opening-flashed",
    ]
    assert all(change.reason and change.source.section for change in changes)


def test_the_county_asks_for_more_stations() -> None:
    """The county wants the gap read every 6 ft, where practice is content with 3 stations."""
    ours, theirs = (check_of(name, "field-gap").stations for name in (COUNTY, PRACTICE))
    assert ours is not None
    assert theirs is not None
    assert ours.one_per is not None
    assert (ours.at_least, ours.one_per.text) == (3, "6 ft")
    assert (theirs.at_least, theirs.one_per) == (3, None)


def test_the_maker_has_three_coverages() -> None:
    """The demo maker covers material, watertight workmanship and wind."""
    coverages = edition(MAKER).book.coverages
    assert [coverage.id for coverage in coverages] == ["material", "workmanship-watertight", "wind"]


def test_proved_digests_are_those_of_the_files() -> None:
    """`PROVED` lists the shipped rulebooks as they are, so that no changed one goes unchecked."""
    listed = (shipped("rulebooks") / PROVED).read_text(encoding="ascii")
    assert listed == digests()
    assert len(proved_digests()) == len(COUNTS)


@pytest.mark.parametrize("reference", COUNTS)
def test_proved_rulebooks_keep_the_schema(reference: str) -> None:
    """What reading skips for a proved rulebook holds: its file keeps the schema, problem-free."""
    file = shipped("rulebooks") / f"{reference}.yaml"
    assert check(load_document(file), "rulebook") == ()

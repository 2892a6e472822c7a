"""Two invented roofs whose hips no chart covers: an octagonal turret, and four different slopes.

Angles are expected from the identities named beside them, worked out by hand, and outcomes from
what each record says is wrong.
"""

from __future__ import annotations

import math
from fractions import Fraction
from functools import lru_cache
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

from ridgerule.audit.compile import plan_for
from ridgerule.audit.evaluate import evaluate
from ridgerule.audit.expressions import Derivation
from ridgerule.audit.findings import Outcome
from ridgerule.audit.subjects import subjects
from ridgerule.cli.inputs import Asked, Auditor
from ridgerule.documents import load_document
from ridgerule.enclosures import high, low
from ridgerule.facts import Element, FactRef
from ridgerule.problems import Location
from ridgerule.quantities import Quantity
from ridgerule.record_reader import read_record
from ridgerule.shelf import Shelf
from ridgerule.units import NM_PER_INCH

if TYPE_CHECKING:
    from ridgerule.audit.findings import Audit
    from ridgerule.audit.truth import Used
    from ridgerule.enclosures import Amount

FIXTURES = Path(__file__).parent.parent / "fixtures"
TURRET = "turret/heron-turret.yaml"
FOUR_SLOPES = "four-slopes/weir-end.yaml"
PRACTICE = "practice/hip-and-ridge@2026-11"
PLAN = plan_for([(PRACTICE, Location("test"))], Shelf())
PLACES_2, PLACES_4 = Fraction(6, 1000), Fraction(15, 100_000)
TURRET_HIPS = tuple(f"H{n}" for n in range(1, 9))


@lru_cache
def audit_of(name: str) -> Audit:
    """Return the audit of a fixture roof by common practice."""
    record = read_record(load_document(FIXTURES / name), PLAN.vocabulary)
    assert record.rulebooks == (PRACTICE,)
    return evaluate(PLAN, record)


def computed(name: str, place: str, fact: str) -> Amount:
    """Return the amount of a computed fact at a line or a plane of a fixture roof."""
    record = read_record(load_document(FIXTURES / name), PLAN.vocabulary)
    derivation = PLAN.vocabulary.by_name[fact].derivation
    assert isinstance(derivation, Derivation)
    subject = derivation(record, record.by_id[Element(fact.partition(".")[0]), place])
    assert isinstance(subject.value, Quantity), subject.missing
    return subject.value.amount


def is_printed(amount: Amount, printed: str, tolerance: Fraction) -> bool:
    """Tell whether all of the amount lies within the tolerance of a printed figure."""
    least, most = low(amount), high(amount)
    assert least is not None
    assert most is not None
    return Fraction(printed) - tolerance <= least and most <= Fraction(printed) + tolerance


def degrees(slope: Amount) -> Fraction:
    """Return the angle of a slope; floating point is far finer than the printed figures."""
    least = low(slope)
    assert least is not None
    return Fraction(math.degrees(math.atan(float(least))))


# Cosine of the angle between the planes' normals = (1 + ab cos(plan angle)) / sqrt((1+a2)(1+b2)).
ANGLES = {
    # Computed: (9 + 4 cos 45) / 13 = 0.909879, 24.51 from 180.
    **{(TURRET, hip): "155.49" for hip in TURRET_HIPS},
    # Computed: 1 / sqrt(1.25 x 1.4444) = 0.744208, 41.91 from 180.
    (FOUR_SLOPES, "H1"): "138.09",
    # Trade article, recomputed: backing of 20.275 and 29.993, both from 180.
    (FOUR_SLOPES, "H2"): "129.732",
    # Computed: 1 / sqrt(1.6944 x 2) = 0.543214, 57.10 from 180.
    (FOUR_SLOPES, "H3"): "122.90",
    # Computed: 1 / sqrt(2 x 1.25) = 0.632456, 50.77 from 180.
    (FOUR_SLOPES, "H4"): "129.23",
    # Handbook tables: 6:12 is 26.57 and 10:12 is 39.81; recomputed, 26.565 and 39.806 from 180.
    (FOUR_SLOPES, "R1"): "113.63",
}


@pytest.mark.parametrize(("place", "printed"), ANGLES.items(), ids=str)
def test_angles_between_planes(place: tuple[str, str], printed: str) -> None:
    """The angle between the planes beside each hip and ridge is the one worked out by hand."""
    assert is_printed(computed(*place, "line.included_angle"), printed, PLACES_2)


def test_corners_in_plan() -> None:
    """The turret's corners are an octagon's, the house's square, and its ridge has none."""
    assert {computed(TURRET, hip, "line.plan_corner") for hip in TURRET_HIPS} == {135}
    house = [computed(FOUR_SLOPES, line, "line.plan_corner") for line in ("H1", "H2", "H3", "H4")]
    assert house == [90, 90, 90, 90]
    assert computed(FOUR_SLOPES, "R1", "line.plan_corner") == 0


def test_the_turret_hip_rises_as_the_trade_reference_says() -> None:
    """An octagon's hip at 8:12 rises at 31.6297 deg (trade reference, recomputed)."""
    angle = degrees(computed(TURRET, "H1", "line.hip_slope"))
    assert is_printed(angle, "31.6297", PLACES_4)


def test_the_unequal_hip_rises_as_the_trade_article_says() -> None:
    """A hip between 8:12 and 10:12 rises at 27.50 deg (trade article, recomputed)."""
    assert is_printed(degrees(computed(FOUR_SLOPES, "H2", "line.hip_slope")), "27.50", PLACES_2)


def test_backing() -> None:
    """Both sides' backing is the article's, and on the turret half of what the angle leaves."""
    # Trade article, recomputed: 8:12 with 10:12.
    assert is_printed(computed(FOUR_SLOPES, "H2", "line.backing_first"), "20.275", PLACES_2)
    assert is_printed(computed(FOUR_SLOPES, "H2", "line.backing_second"), "29.993", PLACES_2)
    # Computed: (180 - 155.49) / 2, the same on both sides where slopes are equal.
    assert is_printed(computed(TURRET, "H1", "line.backing_first"), "12.256", PLACES_2)
    assert is_printed(computed(TURRET, "H1", "line.backing_second"), "12.256", PLACES_2)


def test_lengths() -> None:
    """Slope factor, hip factor and hip length are those of rise and runs, by Pythagoras."""
    # Handbook tables: 14.42 in of common rafter for each foot of run at 8:12.
    assert is_printed(computed(TURRET, "N", "plane.slope_factor"), "1.2019", PLACES_4)
    # Computed: rise 4 ft, run 6 ft / cos 22.5: 7.62736 ft, 1.27123 times the common run.
    assert is_printed(computed(TURRET, "H1", "line.hip_factor"), "1.2712", PLACES_4)
    inches = Fraction(NM_PER_INCH)
    turret = computed(TURRET, "H1", "line.hip_length")
    assert is_printed(turret, str(Fraction("91.528") * inches), inches / 100)
    # Computed: rise 7.5 ft, runs 11.25 ft and 9 ft: 16.24231 ft.
    house = computed(FOUR_SLOPES, "H2", "line.hip_length")
    assert is_printed(house, str(Fraction("194.908") * inches), inches / 100)


def test_caps_by_the_computed_angle() -> None:
    """A turret of 8:12 takes the low-angle cap, where a square hip's chart would give 120 deg."""
    assert {computed(TURRET, hip, "line.cap_by_angle") for hip in TURRET_HIPS} == {160}
    lines = ("H1", "H2", "H3", "H4", "R1")
    assert {computed(FOUR_SLOPES, line, "line.cap_by_angle") for line in lines} == {120}


def standing_out(name: str) -> list[tuple[str, str, Outcome]]:
    """Return every finding that is no pass, where its rule applies."""
    return [
        (finding.rule.id if finding.rule else "", finding.place.label, finding.outcome)
        for finding in audit_of(name).findings
        if finding.outcome in (Outcome.FAIL, Outcome.NOT_VERIFIED)
    ]


def test_what_is_wrong_with_the_turret() -> None:
    """A cap of the chart's profile, one angle read wrongly, and one not known to be read."""
    assert audit_of(TURRET).outcome is Outcome.FAIL
    assert standing_out(TURRET) == [
        ("cap-nearest", "hip H5", Outcome.NOT_VERIFIED),
        ("cap-nearest", "hip H7", Outcome.FAIL),
        ("cap-by-measured-angle", "hip H5", Outcome.NOT_VERIFIED),
        ("angle-agrees", "hip H5", Outcome.NOT_VERIFIED),
        ("angle-agrees", "hip H6", Outcome.FAIL),
    ]


def test_what_is_wrong_with_the_four_slopes() -> None:
    """A cap too flat for its hip, and an angle read 3.8 deg off the one that the slopes give."""
    assert audit_of(FOUR_SLOPES).outcome is Outcome.FAIL
    assert standing_out(FOUR_SLOPES) == [
        ("cap-nearest", "hip H2", Outcome.FAIL),
        ("angle-agrees", "hip H4", Outcome.FAIL),
    ]


def outcomes(name: str, rule: str) -> dict[str, Outcome]:
    """Return what came of a rule at each line."""
    findings = audit_of(name).findings
    return {f.place.id: f.outcome for f in findings if f.rule and f.rule.id == rule}


def test_no_chart_on_either_roof() -> None:
    """The chart's rule applies to no hip or ridge: no corner is square with equal slopes."""
    for name, count in ((TURRET, 8), (FOUR_SLOPES, 5)):
        found = outcomes(name, "cap-chart-and-angle")
        assert len(found) == count
        assert set(found.values()) == {Outcome.NOT_APPLICABLE}


def test_a_measured_angle_governs() -> None:
    """Hips whose angle was measured are judged by it and not by the computed one."""
    measured = outcomes(FOUR_SLOPES, "cap-by-measured-angle")
    by_slopes = outcomes(FOUR_SLOPES, "cap-nearest")
    assert [line for line, out in measured.items() if out is Outcome.PASS] == ["H3", "H4"]
    assert [line for line, out in by_slopes.items() if out is Outcome.NOT_APPLICABLE] == [
        "H3",
        "H4",
    ]


def test_the_working_leads_back_to_the_readings() -> None:
    """The failed cap on the turret rests on the slopes and directions of its two planes."""
    (finding,) = (
        f
        for f in audit_of(TURRET).findings
        if f.rule and f.rule.id == "cap-nearest" and f.outcome is Outcome.FAIL
    )
    (cap,) = (use for use in finding.used if use.fact.full_name == "line.cap_by_angle")
    (angle,) = cap.via
    assert angle.fact.full_name == "line.included_angle"
    assert angle.steps
    assert {(use.place, use.fact.full_name, use.text) for use in leaves(angle)} == {
        ("hip H7", "line.kind", "hip"),
        ("plane W", "plane.slope", "8:12"),
        ("plane W", "plane.faces", "270 deg"),
        ("plane NW", "plane.slope", "8:12"),
        ("plane NW", "plane.faces", "315 deg"),
    }


def leaves(use: Used) -> list[Used]:
    """Return the readings that a value was made from."""
    return [leaf for via in use.via for leaf in leaves(via)] if use.via else [use]


def test_the_roofs_exercise_every_computed_fact() -> None:
    """Each computed fact of the engine and of the rulebooks has a value on one of the roofs."""
    known: set[str] = set()
    asked: set[str] = set()
    for file in ("demo/harrow-lane.yaml", "turret/heron-turret.yaml", "four-slopes/weir-end.yaml"):
        audit = Auditor(Asked()).audit(FIXTURES / file)
        record = audit.record
        hosts = [place for group in record.places.values() for place in group]
        places = [record.roof, *hosts, *(s for host in hosts for s in host.stations)]
        for fact in audit.plan.vocabulary.facts:
            if fact.derivation is None:
                continue
            asked.add(fact.full_name)
            own = [p for p in places if p.element is fact.element]
            found = (subjects(record, place, FactRef(fact)).items[0] for place in own)
            known |= {fact.full_name for subject in found if subject.value is not None}
    assert len(asked) == 35
    assert asked - known == set()

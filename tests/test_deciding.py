"""Readings near a limit: how sure they are, the statement made of them, and guarded acceptance."""

from __future__ import annotations

import json
import math
from fractions import Fraction
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from ridgerule.audit.deciding import decision
from ridgerule.audit.findings import Audit, Finding, Outcome
from ridgerule.audit.truth import Judgement
from ridgerule.enclosures import high, low
from ridgerule.problems import InputRejected
from ridgerule.reports import view
from ridgerule.reports.json_report import json_report
from ridgerule.reports.text import text_report
from workshop import amendment, audit, findings, only, outcomes, plan, rule, rulebook

INCH = 25_400_000
TAPE = {"graduation": "1/16 in", "expanded_uncertainty": "1/16 in"}
GUARDED = "guarded acceptance"


def book(*rules: dict[str, Any], decided: str | None = GUARDED) -> str:
    """Return a rulebook that decides as it is told."""
    return rulebook(*rules, **({"decision_rule": decided} if decided else {}))


def hip(*gaps: Any, instruments: Any = None) -> dict[str, Any]:
    """Return a roof with one hip and a station for each reading of its gap."""
    stations = [{"at": f"{n + 1} ft", "gap": gap} for n, gap in enumerate(gaps)]
    return {
        "instruments": {"tape": TAPE} if instruments is None else instruments,
        "planes": {"S": {"slope": "7:12"}, "E": {"slope": "7:12"}},
        "lines": {"H": {"kind": "hip", "between": ["S", "E"], "stations": stations}},
    }


GAP = rule("gap", "station.gap", {"at_least": "3 in"}, when={"line.kind": "hip"})


def decided(done: Audit, rule_id: str, place: str, *, chance: bool = False) -> Any:
    """Return what can be said of one finding's reading."""
    found = only(done, rule_id, place)
    return said_of(done, found, chance=chance)


def said_of(done: Audit, found: Finding, *, chance: bool = False) -> Any:
    """Return what can be said of a finding's reading."""
    assert found.check is not None
    judged = Judgement(found.outcome is Outcome.PASS, found.margin, (), found.used)
    return decision(
        done.record, found.check.of, found.check.limit, judged,
        measured=found.measured, with_probability=chance,
    )  # fmt: skip


def number(amount: Any, per: int = INCH) -> float:
    """Return an amount in inches, by the middle of its enclosure."""
    return float((Fraction(low(amount)) + Fraction(high(amount))) / 2 / per)


# u of a tape read to 1/16 in with U = 1/16 in: root((1/16)^2 / 12 + (1/32)^2) = 0.03608 in.
SURE = 2 * math.sqrt((1 / 16) ** 2 / 12 + (1 / 32) ** 2)


def test_a_reading_is_as_sure_as_its_instrument() -> None:
    """Graduation and stated uncertainty join as the GUM joins them (JCGM 100, F.2.2.1, 4.3.3)."""
    done = audit(hip("3 1/8 in"), book(GAP))
    found = decided(done, "gap", "hip H at 1 ft")
    assert number(found.sure.expanded) == pytest.approx(SURE, rel=1e-12)


@pytest.mark.parametrize(
    ("gap", "outcome", "reason"),
    [
        ("3 1/8 in", "pass", ""),
        ("2 7/8 in", "fail", ""),
        ("3 1/16 in", "not verified",
         ("too close to call: 1/16 in inside the limit, and the reading is sure to ±0.072 in; "
         "measure again with an instrument that is sure to less than ±1/16 in")),
        ("2 15/16 in", "not verified",
         ("too close to call: 1/16 in outside the limit, and the reading is sure to ±0.072 in; "
         "measure again with an instrument that is sure to less than ±1/16 in")),
        ("3 in", "not verified",
         ("too close to call: on the limit, and the reading is sure to ±0.072 in; no instrument "
         "settles a reading on the limit itself")),
        ({"value": "3 1/2 in", "how": "measured"}, "not verified",
         ("too close to call without knowing how sure it is: with which instrument it was read is "
         "not recorded")),
        ({"value": "3 1/2 in", "how": "measured", "with": "tape"}, "pass", ""),
        ("unknown", "not verified", "station.gap at hip H at 1 ft: unknown"),
    ],
)  # fmt: skip
def test_guarded_acceptance(gap: Any, outcome: str, reason: str) -> None:
    """Inside the guard band a reading is too close to call, and what would settle it is said."""
    found = only(audit(hip(gap), book(GAP)), "gap", "hip H at 1 ft")
    assert (str(found.outcome), found.reason) == (outcome, reason)


def test_simple_acceptance_counts_no_uncertainty() -> None:
    """Without a word of it a reading on the limit meets it, whatever it was read with."""
    done = audit(hip("3 in", "2 15/16 in"), book(GAP, decided=None))
    assert [*outcomes(done, "gap").values()][:2] == ["pass", "fail"]


@pytest.mark.parametrize(
    ("gap", "statement"),
    [("3 1/8 in", "pass"), ("3 1/16 in", "conditional pass"), ("3 in", "conditional pass"),
     ("2 15/16 in", "conditional fail"), ("2 7/8 in", "fail")],
)  # fmt: skip
def test_the_four_statements(gap: str, statement: str) -> None:
    """Beside simple acceptance stands what ILAC-G8 says with a guard band of U."""
    done = audit(hip(gap), book(GAP, decided=None))
    assert decided(done, "gap", "hip H at 1 ft").statement == statement


@pytest.mark.parametrize("gap", ["2 7/8 in", "2 15/16 in", "3 in", "3 1/16 in", "3 1/8 in"])
def test_conformance_probability_is_that_of_scipy(gap: str) -> None:
    """The chance of being within the limit is the normal distribution's (JCGM 106, 7; scipy)."""
    done = audit(hip(gap), book(GAP, decided=None))
    found = decided(done, "gap", "hip H at 1 ft", chance=True)
    value = float(Fraction(done.findings[0].measured[0].value.amount, INCH))  # type: ignore[union-attr, arg-type]
    assert number(found.probability, 1) == pytest.approx(
        stats.norm.sf(3, loc=value, scale=SURE / 2), abs=1e-9
    )


def test_repeats_a_tape_class_and_a_caliper() -> None:
    """Repeats add their own scatter, a tape class its limits of error, a document nothing."""
    instruments = {
        "tape": {"tape_class": "II", "graduation": "0 mm"},
        "caliper": {"expanded_uncertainty": "0.02 mm", "graduation": "0 mm"},
    }
    readings = (
        {"value": "76 mm", "how": "measured", "with": "caliper", "repeats": ["78 mm", "80 mm"]},
        {"value": "76 mm", "how": "measured", "with": "tape"},
        {"value": "76 mm", "how": "document"},
    )
    done = audit(hip(*readings, instruments=instruments), book(GAP, decided=None))
    places = [f"hip H at {n} ft" for n in (1, 2, 3)]
    sure = [number(decided(done, "gap", place).sure.expanded, 1_000_000) for place in places]
    # s = 2 mm over three readings: u = 2/sqrt 3, beside 0.01; class II within 1 m: +-0.5 / sqrt 3.
    assert sure[0] == pytest.approx(2 * math.hypot(2 / math.sqrt(3), 0.01), rel=1e-9)
    assert sure[1] == pytest.approx(2 * 0.5 / math.sqrt(3), rel=1e-9)
    assert sure[2] == 0


def test_a_slope_read_as_an_angle() -> None:
    """A gauge in degrees moves a slope by its tangent: (1 + m squared) x pi / 180 a degree."""
    slope = rule("slope", "plane.slope", {"at_least": "6:12"})
    data = {
        "instruments": {"slope gauge": {"graduation": "1 deg", "expanded_uncertainty": "0 deg"}},
        "planes": {"S": {"slope": "7:12"}},
    }
    done = audit(data, book(slope, decided=None))
    found = decided(done, "slope", "plane S")
    expected = 2 * (1 / math.sqrt(12)) * (1 + (7 / 12) ** 2) * math.pi / 180
    assert number(found.sure.expanded, 1) == pytest.approx(expected, rel=1e-9)


def test_spread_mean_and_another_fact() -> None:
    """A spread is a difference of two readings; a limit that is a reading adds that one's."""
    rules = (
        rule("spread", "spread station.gap", {"at_most": "1 in"}, at="line"),
        rule("mean", "mean station.gap", {"at_least": "2 in"}, at="line"),
        rule("other", "station.gap", {"at_most": "station.cap_exposure"}),
    )
    data = hip("3 in", "3 1/8 in")
    data["lines"]["H"]["stations"][0]["cap_exposure"] = "8 in"
    done = audit(data, book(*rules, decided=None))
    u = SURE / 2
    for name, place, expected in (
        ("spread", "hip H", math.sqrt(2) * u), ("mean", "hip H", u),
        ("other", "hip H at 1 ft", math.sqrt(2) * u),
    ):  # fmt: skip
        found = decided(done, name, place)
        assert number(found.sure.standard) == pytest.approx(expected, rel=1e-9), name


def test_computed_facts_by_propagation_agree_with_monte_carlo() -> None:
    """A computed angle is as sure as 200,000 draws of its slopes make it (JCGM 101 in spirit)."""
    angle = rule("angle", "line.included_angle", {"at_least": "100 deg"})
    data = hip("3 in")
    data["instruments"] = {
        "slope gauge": {"graduation": "1 deg", "expanded_uncertainty": "0 deg"},
        "compass": {"graduation": "2 deg", "expanded_uncertainty": "0 deg"},
    }
    data["planes"] = {"S": {"slope": "7:12", "faces": "180 deg"},
                      "E": {"slope": "9:12", "faces": "90 deg"}}  # fmt: skip
    done = audit(data, book(angle, decided=None))
    found = decided(done, "angle", "hip H")
    rng = np.random.default_rng(106)

    def drawn(middle: float, sigma: float) -> Any:
        return rng.normal(middle, sigma, 200_000)

    u_slope = [(1 / math.sqrt(12)) * (1 + m * m) * math.pi / 180 for m in (7 / 12, 9 / 12)]
    s, e = drawn(7 / 12, u_slope[0]), drawn(9 / 12, u_slope[1])
    apart = np.radians(drawn(180, 2 / math.sqrt(12)) - drawn(90, 2 / math.sqrt(12)))
    cosine = (s * e * np.cos(apart) + 1) / np.sqrt((1 + s * s) * (1 + e * e))
    angles = 180 - np.degrees(np.arccos(cosine))
    assert number(found.sure.standard, 1) == pytest.approx(float(angles.std()), rel=0.02)


def test_limits_closer_together_than_the_instrument_can_tell() -> None:
    """Two limits less than 2U apart leave no reading that passes under guarded acceptance."""
    narrow = rule("gap", "station.gap", {"between": ["3 in", "3 1/8 in"]})
    found = only(audit(hip("3 1/16 in"), book(narrow)), "gap", "hip H at 1 ft")
    assert str(found.outcome) == "not verified"
    assert found.reason.startswith(
        "the limits lie closer together than this instrument can tell (±0.072 in)"
    )


def test_yes_and_no_are_decided_as_ever() -> None:
    """What is no quantity on a scale has no guard band."""
    flag = rule("straight", "line.cut_straight", "present")
    data = hip()
    data["lines"]["H"]["cut_straight"] = True
    assert outcomes(audit(data, book(flag)), "straight")["hip H"] == "pass"


def test_a_rule_may_decide_otherwise_than_its_rulebook() -> None:
    """A rule's own word comes before its rulebook's, and cases count no uncertainty."""
    simple = rule("simple", "station.gap", {"at_least": "3 in"}, decision_rule="simple acceptance",
                  cases=[{"given": {"station.gap": "3 in"}, "expect": "pass"}])  # fmt: skip
    guarded = rule("guarded", "station.gap", {"at_least": "3 in"},
                   cases=[{"given": {"station.gap": "3 in"}, "expect": "pass"}])  # fmt: skip
    done = audit(hip("3 in"), book(simple, guarded))
    assert str(only(done, "simple", "hip H at 1 ft").outcome) == "pass"
    assert str(only(done, "guarded", "hip H at 1 ft").outcome) == "not verified"


def test_a_base_that_guards_is_not_undone_by_its_child() -> None:
    """A child's rulebook that says simple leaves its base's rules guarded; it may guard more."""
    base = rulebook(GAP, name="t/base@1", decision_rule=GUARDED)
    child = rulebook(name="t/child@1", based_on=["t/base@1"], decision_rule="simple acceptance")
    done = audit(hip("3 in"), child, base)
    assert str(only(done, "gap", "hip H at 1 ft").outcome) == "not verified"
    plainer = rulebook(GAP, name="t/base@1")
    guarding = rulebook(name="t/child@1", based_on=["t/base@1"], decision_rule=GUARDED)
    both = audit(hip("3 in"), guarding, plainer, asked=("t/child@1", "t/base@1"))
    assert [str(f.outcome) for f in findings(both, "gap") if f.place.label == "hip H at 1 ft"] == [
        "not verified", "pass",
    ]  # fmt: skip


def test_another_decision_rule_needs_permission() -> None:
    """To decide a base's rule in another way makes some readings better: it has to be permitted."""
    base = rulebook(GAP, name="t/base@1", decision_rule=GUARDED)
    change = amendment("gap", decision_rule="simple acceptance")
    child = rulebook(name="t/child@1", based_on=["t/base@1"], amendments=[change])
    with pytest.raises(InputRejected, match="permitted_by"):
        plan(child, base)
    permitted = {**change, "permitted_by": "an office (invented)"}
    done = audit(hip("3 in"), rulebook(name="t/child@1", based_on=["t/base@1"],
                                       amendments=[permitted]), base)  # fmt: skip
    assert str(only(done, "gap", "hip H at 1 ft").outcome) == "pass"


def test_reports_state_the_rule_the_statement_and_how_sure() -> None:
    """Data has decision rule, statement, uncertainty and chance; text names the rule used."""
    done = audit(hip("3 1/8 in", "2 7/8 in", "3 1/16 in"), book(GAP))
    shown = view.view_of(done, settings=view.Settings())
    data = json.loads(json_report(shown))
    by_place = {f["place"]: f for f in data["findings"]}
    assert {f["decision_rule"] for f in by_place.values() if f["class"]} == {GUARDED}
    assert by_place["hip H at 1 ft"]["statement"] == "pass"
    assert by_place["hip H at 3 ft"]["statement"] == "conditional pass"
    assert by_place["hip H at 1 ft"]["uncertainty"]["expanded"] == "0.072 in"
    assert by_place["hip H at 1 ft"]["uncertainty"]["conformance_probability"] == "over 99.9 %"
    text = " ".join(text_report(shown, width=100, colour=False, show_all=False).split())
    assert "how sure fail: the reading is sure to ±0.072 in (95 %)" in text
    assert "Read by guarded acceptance" in text


_GAPS = st.integers(2 * 32, 4 * 32).map(lambda n: f"{n}/32 in")


@given(_GAPS, st.sampled_from(["1/64 in", "1/16 in", "1/4 in"]))
def test_guarding_turns_some_open_and_none_over(gap: str, uncertainty: str) -> None:
    """Guarded acceptance never makes a pass of a failure nor a failure of a pass."""
    data = hip(
        gap, instruments={"tape": {"graduation": "0 in", "expanded_uncertainty": uncertainty}}
    )
    simple, guarded = (
        outcomes(audit(data, book(GAP, decided=how)), "gap")["hip H at 1 ft"]
        for how in (None, GUARDED)
    )
    assert guarded in (simple, "not verified")


@given(_GAPS, st.sampled_from(["graduation", "expanded_uncertainty", "instrument", "with"]))
def test_leaving_out_how_sure_a_reading_is_gains_nothing(gap: str, left_out: str) -> None:
    """Without its instrument, or what is known of it, a guarded reading is no better decided."""
    long = {"value": gap, "how": "measured", "with": "tape"}
    data = hip(long)
    before = outcomes(audit(data, book(GAP)), "gap")["hip H at 1 ft"]
    if left_out == "with":
        long.pop("with")
    elif left_out == "instrument":
        data["instruments"] = {}
    else:
        data["instruments"] = {"tape": {k: v for k, v in TAPE.items() if k != left_out}}
    after = outcomes(audit(data, book(GAP)), "gap")["hip H at 1 ft"]
    assert (after, before) != ("pass", "not verified")
    assert after == "not verified"

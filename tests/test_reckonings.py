"""Every computation a rulebook or the shell can name gives a published or hand-worked value."""

from __future__ import annotations

from fractions import Fraction
from typing import TYPE_CHECKING

import pytest
from hypothesis import given
from hypothesis import strategies as st

from ridgerule.enclosures import Span, high, low
from ridgerule.facts import LineKind, Plain
from ridgerule.quantities import Dimension, Quantity, Units, read
from ridgerule.trade.reckonings import RECKONINGS, Reckoned, Reckoning
from ridgerule.trade.working import written

if TYPE_CHECKING:
    from ridgerule.facts import Value

NEAR = Fraction(6, 1000)
"""What a printed figure of two decimals is good for."""


def _values(reckoning: Reckoning, given: dict[str, str | tuple[str, ...]]):
    """Return inputs as a rulebook would hand them over, from the texts of `given`."""
    taken = {own.name: own for own in reckoning.inputs}
    return {
        name: tuple(
            _value(text, taken[name].dimension)
            for text in (texts if isinstance(texts, tuple) else (texts,))
        )
        for name, texts in given.items()
    }


def _value(text: str, dimension: Dimension | Plain) -> Value:
    if dimension is Plain.YES_NO:
        return text == "yes"
    if not isinstance(dimension, Dimension):
        return text
    if " to " in text:
        least, most = (_amount(end, dimension) for end in text.split(" to "))
        return Quantity(dimension, Span(least, most), text)
    return Quantity(dimension, _amount(text, dimension), text)


def _amount(text: str, dimension: Dimension):
    found = read(text, dimension)
    assert isinstance(found, Quantity), found
    return found.amount


def _reckon(name: str, **given: str | tuple[str, ...]) -> Reckoned | None:
    reckoning = RECKONINGS[name]
    inputs = {key.replace("_", " "): texts for key, texts in given.items()}
    return reckoning.compute(_values(reckoning, inputs))


SLATES = {"slopes": ("8:12", "10:12")}
STACK = {"fastener_length": "1 3/4 in", "passed": ("1/4 in", "1/4 in", "1/16 in")}
PANEL = "0.563 in to 0.625 in"  # PS 1, a panel marked 19/32
AREAS = {"high_area": "3240 in2", "low_area": "3167 in2"}

CHECKS = (
    # Exact identity, computed: a square hip at 12:12 is 120 deg between its planes.
    ("included angle", {"slopes": ("12:12",) * 2, "faces": ("180 deg", "90 deg"), "kind": "hip"},
     "120 deg"),
    # The same, read from the other side of the planes: 180 + 60.
    ("included angle", {"slopes": ("12:12",) * 2, "faces": ("0 deg", "270 deg"), "kind": "valley"},
     "240 deg"),
    # Trade article, recomputed: backings 20.275 and 29.993, so 180 - 50.268 between them.
    ("included angle at a corner", {**SLATES, "corner": "90 deg"}, "129.732 deg"),
    # Worked by hand: directions 270 apart are a quarter turn, a square corner.
    ("plan corner", {"faces": ("0 deg", "270 deg"), "kind": "hip"}, "90 deg"),
    ("plan corner", {"faces": ("0 deg", "90 deg"), "kind": "valley"}, "270 deg"),
    ("plan corner", {"faces": ("0 deg", "180 deg"), "kind": "ridge"}, "0 deg"),
    ("plan corner", {"faces": ("350 deg", "35 deg"), "kind": "hip"}, "135 deg"),
    # Roof-slope tables (trade handbooks): 5:12 is 22.62 deg, 8:12 is 33.69 deg.
    ("ridge angle", {"slopes": ("5:12", "8:12")}, "123.69 deg"),
    # US Navy, NAVEDTRA 14044: 8:12 rises 10 ft over a hip run of 21.21 ft.
    ("hip slope", {"slopes": ("8:12",) * 2, "corner": "90 deg"}, "5.657:12"),
    # Trade article, recomputed: 8:12 with 10:12, square eaves, hip 27.50 deg.
    ("hip angle from level", {**SLATES, "corner": "90 deg"}, "27.50 deg"),
    # Trade reference, recomputed: an octagon's hip at 8:12 is 31.6297 deg.
    ("hip angle from level", {"slopes": ("8:12",) * 2, "corner": "135 deg"}, "31.63 deg"),
    # Trade article, recomputed: plan angles 51.340 and 38.660 deg.
    ("plan angle from the first eave", {**SLATES, "corner": "90 deg"}, "51.34 deg"),
    # The same article: backings 20.275 and 29.993 deg.
    ("backing of the first side", {**SLATES, "corner": "90 deg"}, "20.275 deg"),
    ("backing of the second side", {**SLATES, "corner": "90 deg"}, "29.993 deg"),
    # Worked by hand: 133.5 less 129.7.
    ("difference of two angles", {"first": "129.7 deg", "second": "133.5 deg"}, "3.8 deg"),
    ("angles agree", {"first": "120 deg", "second": "122 deg", "tolerance": "2 deg"}, True),
    ("angles agree", {"first": "123 deg", "second": "120 deg", "tolerance": "2 deg"}, False),
    ("angles agree",
     {"first": "119 deg to 123 deg", "second": "120 deg", "tolerance": "2 deg"}, None),
    # Exact identity, computed: 9:12 has the factor 1.25.
    ("slope factor", {"slope": "9:12"}, "125 %"),
    # US Navy, NAVEDTRA 14044, fig. 2-17: 7:12, run 8 ft: 13.89 in per foot, 111.14 in.
    ("rafter length", {"run": "8 ft", "slope": "7:12"}, "111.14 in"),
    # Exact identity, computed; also in framing-square tables: 6:12 has the hip factor 1.5.
    ("hip factor", {"slopes": ("6:12",) * 2, "corner": "90 deg"}, "150 %"),
    # US Navy, NAVEDTRA 14044: 8:12, run 15 ft: length 23.45 ft, 281.425 in from its root.
    ("hip length from common run",
     {"common_run": "15 ft", "slopes": ("8:12",) * 2, "corner": "90 deg"}, "281.425 in"),
    # The same hip: run 21.21 ft on the plan, 23.448 ft along it.
    ("hip length from plan run",
     {"plan_run": "21.21 ft", "slopes": ("8:12",) * 2, "corner": "90 deg"}, "281.382 in"),
    # Worked by hand: 1 3/4 less 9/16.
    ("penetration", STACK, "1 3/16 in"),
    ("penetration", {**STACK, "deck": "3/4 in"}, "1 3/16 in"),
    ("penetration", {"fastener_length": "1/4 in", "passed": ("1/4 in", "1/4 in")}, "0 in"),
    # Worked by hand: 1 3/16 less 3/4.
    ("length beyond the deck", {**STACK, "deck": "3/4 in"}, "7/16 in"),
    # Worked by hand: 19/32 and 1/8 are 23/32.
    ("penetration from protrusion", {"protrusion": "1/8 in", "deck": "19/32 in"}, "23/32 in"),
    # Worked by hand from the panel's interval (PS 1): 1 3/16 is more than its greatest.
    ("through the deck", {**STACK, "deck": PANEL}, True),
    ("through the deck", {**STACK, "deck": "1 3/16 in"}, False),
    ("through the deck", {**STACK, "fastener_length": "1 5/32 in", "deck": PANEL}, None),
    # Worked by hand: 11/16 in is short of 3/4 in, and through a "3/4" panel only if it is thin.
    ("through the deck or deep enough",
     {**STACK, "fastener_length": "1 5/16 in", "deck": "0.719 in to 0.781 in",
      "least_penetration": "3/4 in"}, True),
    ("through the deck or deep enough",
     {**STACK, "fastener_length": "1 19/64 in", "deck": "0.719 in to 0.781 in",
      "least_penetration": "3/4 in"}, None),
    ("through the deck or deep enough",
     {**STACK, "fastener_length": "1 1/4 in", "deck": "0.719 in to 0.781 in",
      "least_penetration": "3/4 in"}, False),
    # Worked by hand: 1/2 and 3/4, the deck being an inch.
    ("required fastener length",
     {"passed": ("1/4 in",) * 2, "deck": "1 in", "least_penetration": "3/4 in"}, "1 1/4 in"),
    # IRC R806.2 (recalled): 1/300 with both conditions, from the 2015 edition on.
    ("ventilation divisor",
     {"conditions": ("yes", "yes"), "usual_divisor": "150", "divisor_with_conditions": "300",
      "needs": "all"}, "300"),
    ("ventilation divisor",
     {"conditions": ("yes", "no"), "usual_divisor": "150", "divisor_with_conditions": "300",
      "needs": "all"}, "150"),
    # Prior Lake MN permit record, 2002: 10,600 ft2 at 1/300 needs 5,088 in2.
    ("required free area", {"vented_area": "10600 ft2", "divisor": "300"}, "5088 in2"),
    # Worked by hand: 40 ft less 2 ft and 18 in.
    ("open length of a run", {"length": "40 ft", "closed": ("2 ft", "18 in")}, "36 ft 6 in"),
    # Prior Lake MN permit record, 2002: ridge 180 ft x 18 in2/ft = 3,240.
    ("free area of a run",
     {"area_per_length": "18 in2/ft", "open_length": "180 ft"}, "3240 in2"),
    # Worked by hand: a slot of 1 in passes 12 in2 a foot.
    ("free area of a run",
     {"area_per_length": "18 in2/ft", "open_length": "10 ft", "slot": "1 in"}, "120 in2"),
    # Worked by hand.
    ("free area of counted vents", {"area_of_each": "50 in2", "count": "6"}, "300 in2"),
    ("free area of screened openings",
     {"gross_area": "100 in2", "free_share": "75 %", "count": "4"}, "300 in2"),
    ("free area of screened openings", {"gross_area": "100 in2", "free_share": "75 %"}, "75 in2"),
    # Zephyrhills FL permit plan B1: 591 in2 high of 1,141 is 51.8 %.
    ("high share of required", {"high_area": "591 in2", "required_area": "1141 in2"}, "51.797 %"),
    # Prior Lake MN permit record: 3,240 of 6,407.
    ("high share of provided", AREAS, "50.57 %"),
    ("high share of provided", {"high_area": "0 in2", "low_area": "0 in2"}, None),
    # Worked by hand.
    ("low share of required", {"low_area": "3 ft2", "required_area": "5 ft2"}, "60 %"),
    ("low share of provided",
     {"high_area": "40 in2", "low_area": "40 in2", "area_elsewhere": "20 in2"}, "40 %"),
    ("ventilation shortfall",
     {"required_area": "500 in2", "provided_areas": ("200 in2", "120 in2")}, "180 in2"),
    ("length of vent to cure a shortfall",
     {"shortfall": "180 in2", "area_per_length": "18 in2/ft"}, "10 ft"),
    # OpenStax, College Physics, ex. 13.3: 12e-6 x 1275 m x 55 degC = 0.84 m.
    ("growth",
     {"length": "999 ft", "expansion": "12 um/m/degC", "temperature_difference": "55 degC"},
     "7.912 in"),
    # Ten feet of aluminium over 100 degF: 0.155 in, here at 23.25 um/m/degC (computed).
    ("gap left at a temperature",
     {"gap": "1 in", "edge_distances": ("5 ft", "5 ft"), "expansion": "23.25 um/m/degC",
      "surface_temperature": "30 degF", "target_temperature": "130 degF"}, "0.845 in"),
    # Computed: 216 in / 7 in is 31; + 3 = 34; x 1.05 = 35.7, so 36 (an invented line).
    ("caps needed on a line",
     {"length": "18 ft", "exposure": "7 in", "starts": "1", "mitres": "2", "waste": "5 %"}, "36"),
    ("caps needed on a line", {"length": "18 ft", "exposure": "7 in"}, "31"),
    # Worked by hand.
    ("bundles needed", {"caps": "36", "caps_in_a_bundle": "12"}, "3"),
    ("bundles needed", {"caps": "37", "caps_in_a_bundle": "12"}, "4"),
    ("caps short", {"needed": "36", "delivered": "24"}, "12"),
    ("caps over", {"needed": "36", "delivered": "40"}, "4"),
    # UK SI 2016/1153: class II at 5 m is within 1.3 mm; 2 x 1.3 / root 3 = 1.501 (computed).
    ("uncertainty of a tape", {"length": "5 m", "tape_class": "II"}, "1.501 mm"),
    # JCGM 100, F.2.2.1: d / root 3, 0.03608 in for 1/16 in (computed).
    ("uncertainty of a graduation", {"graduation": "1/16 in"}, "0.0361 in"),
    # Worked by hand: 3, 4 and 5.
    ("combined uncertainty", {"uncertainties": ("3 mm", "4 mm")}, "5 mm"),
    # Success run (recalled): 95 % and 95 % need 59.
    ("sample size", {"confidence": "95 %", "reliability": "95 %"}, "59"),
    # ISPM 31 (recalled): a lot of 100 needs 45.
    ("sample size", {"confidence": "95 %", "reliability": "95 %", "lot": "100"}, "45"),
    # Worked by hand: 1 - 0.5^2.
    ("confidence reached", {"inspected": "2", "reliability": "50 %"}, "75 %"),
    # NIST/SEMATECH e-Handbook (recalled): 4 of 20, two-sided 90 %: at most 0.4010281.
    ("greatest faulty share", {"faulty": "4", "inspected": "20", "confidence": "95 %"},
     "40.103 %"),
)  # fmt: skip


@pytest.mark.parametrize(("name", "given", "expected"), CHECKS, ids=lambda c: str(c)[:40])
def test_each_reckoning_gives_its_published_value(name, given, expected) -> None:
    """The value is the published or hand-worked one named beside the check."""
    found = _reckon(name, **given)
    if expected is None:
        assert found is None
    elif isinstance(expected, bool):
        assert found is not None
        assert found.value is expected
    else:
        assert found is not None
        value = found.value
        assert isinstance(value, Quantity)
        assert value.dimension is RECKONINGS[name].dimension
        printed = _amount(expected, value.dimension)
        one = _amount(_ONE[value.dimension], value.dimension)
        assert printed - NEAR * one <= low(value.amount)
        assert high(value.amount) <= printed + NEAR * one
        assert value.text == ""


_ONE = {
    Dimension.LENGTH: "0.1 in",
    Dimension.AREA: "1 in2",
    Dimension.ANGLE: "0.1 deg",
    Dimension.SLOPE: "0.1:12",
    Dimension.SHARE: "0.1 %",
    Dimension.COUNT: "1",
}


def test_every_reckoning_is_checked() -> None:
    """The table holds as many reckonings as this file counts, each with a check of its own."""
    assert len(RECKONINGS) == 46
    assert {name for name, _, _ in CHECKS} == set(RECKONINGS)
    assert all(reckoning.name == name for name, reckoning in RECKONINGS.items())


def test_exact_identities_stay_exact() -> None:
    """Where the answer is a fraction it is one: no enclosure, nothing rounded."""
    exact = (
        ("included angle at a corner", {"slopes": ("12:12",) * 2, "corner": "90 deg"}, 120),
        ("included angle at a corner", {"slopes": ("12:12",) * 2, "corner": "270 deg"}, 240),
        ("hip factor", {"slopes": ("6:12",) * 2, "corner": "90 deg"}, Fraction(3, 2)),
        ("slope factor", {"slope": "5:12"}, Fraction(13, 12)),
        ("high share of required", AREAS | {"required_area": "5088 in2"}, Fraction(3240, 5088)),
    )
    for name, inputs, expected in exact:
        wanted = {own.name for own in RECKONINGS[name].inputs}
        own = {key: text for key, text in inputs.items() if key.replace("_", " ") in wanted}
        found = _reckon(name, **own)
        assert found is not None
        assert isinstance(found.value, Quantity)
        assert found.value.amount == expected


@pytest.mark.parametrize("name", RECKONINGS)
def test_everything_is_said_in_words(name: str) -> None:
    """Formula, source and every input are told in words, and no input's name comes twice."""
    reckoning = RECKONINGS[name]
    assert len(reckoning.formula) > 5
    assert len(reckoning.source) > 5
    assert reckoning.inputs
    names = [own.name for own in reckoning.inputs]
    assert len(set(names)) == len(names)
    for own in reckoning.inputs:
        assert len(own.words) > 8
        assert not own.words.endswith(".")
        assert bool(own.choices) == (own.dimension is Plain.CHOICE)
        assert own.many or not own.counts


def test_the_working_ends_in_the_value() -> None:
    """Every quantity is the last number of its working, and every step can be written."""
    counted = 0
    for name, inputs, _ in CHECKS:
        found = _reckon(name, **inputs)
        if found is None or isinstance(found.value, bool):
            continue
        amounts = [step.amount for step in found.steps]
        assert found.value.amount in amounts, name
        assert all(written(step, units=units) for step in found.steps for units in Units)
        counted += 1
    assert counted == 56


@pytest.mark.parametrize("name", RECKONINGS)
def test_what_is_missing_is_named_all_at_once(name: str) -> None:
    """Without any input the message names each one that is needed and none that is not."""
    with pytest.raises(ValueError, match="missing") as told:
        RECKONINGS[name].compute({})
    for own in RECKONINGS[name].inputs:
        assert (f"{own.name} is missing" in str(told.value)) is not own.optional


@pytest.mark.parametrize(
    ("name", "given", "message"),
    [
        ("ridge angle", {"slopes": ("8:12",)}, "slopes takes 2 of them, not 1"),
        ("slope factor", {"slope": ("8:12", "9:12")}, "slope takes 1 of them, not 2"),
        ("included angle at a corner", {**SLATES, "corner": "180 deg"}, "not 180"),
        ("hip slope", {**SLATES, "corner": "270 deg"}, "an inside corner has a valley"),
        ("plan corner", {"faces": ("0 deg", "9 deg"), "kind": "eave"}, "an eave has no second"),
        ("plan corner", {"faces": ("0 deg", "9 deg"), "kind": "rake"}, "a rake has no second"),
        ("plan corner", {"faces": ("0 deg", "9 deg"), "kind": "crest"}, "kind is one of hip, "),
        ("bundles needed", {"caps": "9", "caps_in_a_bundle": "0"}, "in a bundle is more than 0"),
        ("sample size", {"confidence": "100 %", "reliability": "9 %"}, "between 0 and 1"),
        ("sample size", {"confidence": "1 % to 2 %", "reliability": "9 %"}, "not an interval"),
        ("greatest faulty share",
         {"faulty": "1", "inspected": "100000", "confidence": "9 %"}, "at most 1,000"),
        ("sample size",
         {"confidence": "9 %", "reliability": "9 %", "lot": "999999999999"}, "at most 100,000"),
    ],
    ids=str,
)  # fmt: skip
def test_impossible_inputs_are_refused(name, given, message) -> None:
    """What cannot be is a ValueError that says what would."""
    with pytest.raises(ValueError, match=message):
        _reckon(name, **given)


def test_inputs_of_another_dimension_are_refused() -> None:
    """A length is no slope, a yes is no length, and an unknown name is named."""
    length = Quantity(Dimension.LENGTH, 1, "")
    with pytest.raises(ValueError, match="slope is a slope"):
        RECKONINGS["slope factor"].compute({"slope": (length,)})
    with pytest.raises(ValueError, match="no input is called pitch; slope is a slope"):
        RECKONINGS["slope factor"].compute({"slope": (True,), "pitch": (length,)})
    with pytest.raises(ValueError, match="conditions is yes or no"):
        RECKONINGS["ventilation divisor"].compute({"conditions": (length,)})


def test_counts_are_whole() -> None:
    """Half a vent is refused, from a derived fact too."""
    each = Quantity(Dimension.AREA, 100, "")
    half = Quantity(Dimension.COUNT, Fraction(1, 2), "")
    with pytest.raises(ValueError, match="count is a whole number"):
        RECKONINGS["free area of counted vents"].compute(
            {"area of each": (each,), "count": (half,)}
        )


slopes = st.fractions(min_value=Fraction(1, 48), max_value=4, max_denominator=48)
faces = st.integers(0, 359)


@given(slopes, slopes, faces, faces, st.sampled_from([LineKind.HIP, LineKind.VALLEY]))
def test_the_two_ways_to_an_included_angle_agree(a, b, faces_a, faces_b, kind) -> None:
    """From directions, and from the corner that they make, the same angle comes out."""
    turn = (faces_a - faces_b) % 180
    if turn == 0:
        return
    pitches = tuple(Quantity(Dimension.SLOPE, slope, "") for slope in (a, b))
    faced = tuple(Quantity(Dimension.ANGLE, face, "") for face in (faces_a, faces_b))
    by_faces = RECKONINGS["included angle"].compute(
        {"slopes": pitches, "faces": faced, "kind": (kind,)}
    )
    corner = RECKONINGS["plan corner"].compute({"faces": faced, "kind": (kind,)})
    assert by_faces is not None
    assert corner is not None
    by_corner = RECKONINGS["included angle at a corner"].compute(
        {"slopes": pitches, "corner": (corner.value,)}
    )
    assert by_corner is not None
    assert isinstance(by_faces.value, Quantity)
    assert isinstance(by_corner.value, Quantity)
    one, other = by_faces.value.amount, by_corner.value.amount
    assert low(one) <= high(other)
    assert low(other) <= high(one)
    assert high(one) - low(one) < Fraction(1, 10**9)


def test_the_same_inputs_are_computed_once() -> None:
    """A second roof with the same slopes gets the very same result, however they were written."""
    first = _reckon("ridge angle", slopes=("6:12", "30 deg"))
    again = _reckon("ridge angle", slopes=("1/2", "30 °"))
    assert first is again
    assert first is not _reckon("ridge angle", slopes=("30 deg", "6:12"))

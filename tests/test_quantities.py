"""Quantities are read exactly, printed as the trade writes them, and refused with a reason."""

from __future__ import annotations

from fractions import Fraction
from itertools import pairwise

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from ridgerule.enclosures import Span, compare, tangent
from ridgerule.quantities import (
    Dimension,
    Mistake,
    Quantity,
    Units,
    exact_si,
    read,
    units_of,
    write,
)
from ridgerule.units import EXPECTED, OFFERED, UNITS

D = Dimension
MM = 1_000_000
INCH = Fraction(254, 10) * MM  # NIST SP 811: 1 in = 25.4 mm exactly
FOOT = Fraction(3048, 10) * MM  # NIST SP 811: 1 ft = 0.3048 m exactly
PRIME, DOUBLE_PRIME, MINUS = "\N{PRIME}", "\N{DOUBLE PRIME}", "\N{MINUS SIGN}"


def _amount(text: str | int, dimension: Dimension) -> int | Fraction | Span:
    quantity = read(text, dimension)
    assert isinstance(quantity, Quantity), quantity
    return quantity.amount


LENGTHS = [
    ("3 1/16 in", Fraction("77.7875") * MM),
    ('3-1/16"', Fraction("77.7875") * MM),
    ("3-1/16 in", Fraction("77.7875") * MM),
    ("1/64 in", 396_875),
    ("1/4 in", Fraction("6.35") * MM),
    ("17/16 in", INCH * 17 / 16),
    ("0.25 in", Fraction("6.35") * MM),
    (".105 in.", INCH * 105 / 1000),
    ('3.125"', INCH * 25 / 8),
    ("3 inches", 3 * INCH),
    ("1 inch", INCH),
    ("1 1/3 in", INCH * 4 / 3),
    ("3 ½ in", INCH * 7 / 2),
    ('3½"', INCH * 7 / 2),
    ("⅝ in", INCH * 5 / 8),
    ("2 ft 4 1/2 in", INCH * 57 / 2),
    ("2 ft 4-1/2 in", INCH * 57 / 2),
    ("5' 3 1/4\"", INCH * 253 / 4),
    ("5'3\"", 63 * INCH),
    (f"5{PRIME} 3½{DOUBLE_PRIME}", INCH * 127 / 2),
    ("5'", 5 * FOOT),
    ("18 ft", 18 * FOOT),
    ("1 foot", FOOT),
    ("2.5 feet", FOOT * 5 / 2),
    ("5 ft 0 in", 5 * FOOT),
    ("10,600 ft", 10_600 * FOOT),
    ("60 mil", INCH * 60 / 1000),
    ("78 mm", 78 * MM),
    ("7.8 cm", 78 * MM),
    ("0.6 m", 600 * MM),
    ("  78 \t mm ", 78 * MM),
    ("-3 in", -3 * INCH),
    (f"{MINUS}2 ft 3 in", -27 * INCH),
    ("0 mm", 0),
]


@pytest.mark.parametrize(("text", "nanometres"), LENGTHS)
def test_lengths_are_read_exactly(text: str, nanometres: Fraction) -> None:
    """Every way the trade writes a length gives its exact number of nanometres."""
    amount = _amount(text, D.LENGTH)
    assert amount == nanometres
    assert isinstance(amount, int) == (nanometres == int(nanometres))


OTHERS = [
    ("2377 ft2", D.AREA, 2377 * FOOT**2),
    ("10,600 ft²", D.AREA, 10_600 * FOOT**2),
    ("5,088 sq in", D.AREA, 5088 * INCH**2),
    ("1 sq ft", D.AREA, 144 * INCH**2),
    ("2.5 m2", D.AREA, Fraction(5, 2) * 10**18),
    ("3 cm²", D.AREA, 300 * MM**2),
    ("3 mm2", D.AREA, 3 * MM**2),
    ("7:12", D.SLOPE, Fraction(7, 12)),
    ("5.5:12", D.SLOPE, Fraction(11, 24)),
    ("5 1/2 : 12", D.SLOPE, Fraction(11, 24)),
    ("7/12", D.SLOPE, Fraction(7, 12)),
    ("7 in 12", D.SLOPE, Fraction(7, 12)),
    ("1:3", D.SLOPE, Fraction(1, 3)),
    ("58 %", D.SLOPE, Fraction(58, 100)),
    ("0 deg", D.SLOPE, 0),
    ("45°", D.SLOPE, 1),
    ("120 deg", D.ANGLE, 120),
    ("120°", D.ANGLE, 120),
    ("22.5 deg", D.ANGLE, Fraction(45, 2)),
    ("68 degF", D.TEMPERATURE, 20),
    ("-40 °F", D.TEMPERATURE, -40),
    ("20 degC", D.TEMPERATURE, 20),
    ("20 °C", D.TEMPERATURE, 20),
    ("293.15 K", D.TEMPERATURE, 20),
    # A difference converts by 1/1.8 with no 32 (OpenStax College Physics).
    ("90 degF", D.TEMPERATURE_DIFFERENCE, 50),
    ("50 K", D.TEMPERATURE_DIFFERENCE, 50),
    ("3", D.COUNT, 3),
    (3, D.COUNT, 3),
    ("1,200", D.COUNT, 1200),
    ("40 %", D.SHARE, Fraction(2, 5)),
    ("1/150", D.SHARE, Fraction(1, 150)),
    ("1:300", D.SHARE, Fraction(1, 300)),
    ("1/2 %", D.SHARE, Fraction(1, 200)),
    ("80 um/m/degC", D.EXPANSION, Fraction(80, 10**6)),
    ("80 ppm/K", D.EXPANSION, Fraction(80, 10**6)),
    ("45 ppm/degF", D.EXPANSION, Fraction(81, 10**6)),
    ("18 in2/ft", D.NET_FREE_AREA_PER_LENGTH, 18 * INCH**2 / FOOT),
    ("7.4 sq in/ft", D.NET_FREE_AREA_PER_LENGTH, Fraction("7.4") * INCH**2 / FOOT),
    ("381 cm2/m", D.NET_FREE_AREA_PER_LENGTH, 18 * INCH**2 / FOOT),
    ("30 days", D.DURATION, 30),
    ("2 weeks", D.DURATION, 14),
    ("12 months", D.CALENDAR_MONTHS, 12),
    ("2 years", D.CALENDAR_MONTHS, 24),
]


@pytest.mark.parametrize(("text", "dimension", "amount"), OTHERS)
def test_every_dimension_is_read_exactly(
    text: str | int, dimension: Dimension, amount: Fraction
) -> None:
    """Areas, slopes, temperatures and the rest come out in their base units, exactly."""
    assert _amount(text, dimension) == amount


def test_every_dimension_is_tried_and_described() -> None:
    """No dimension lacks units, an expectation, an offer, or a reading in these tests."""
    assert set(UNITS) == set(EXPECTED) == set(OFFERED) == set(Dimension)
    assert {dimension for _, dimension, _ in OTHERS} | {D.LENGTH} == set(Dimension)


@pytest.mark.parametrize(("dimension", "unit"), [(d, u) for d in UNITS for u in UNITS[d]], ids=str)
def test_every_unit_in_the_table_is_read(dimension: Dimension, unit: str) -> None:
    """Each spelling reads as its entry says, with and without a space before it."""
    entry = UNITS[dimension][unit]
    expected = (7 - entry.zero) * Fraction(entry.scale)
    assert _amount(f"7 {unit}", dimension) == expected
    assert _amount(f"7{unit}", dimension) == expected
    assert units_of(f"7 {unit}") == entry.units


def test_a_slope_in_degrees_is_enclosed() -> None:
    """30 deg is the tangent of 30 degrees, known to equal itself, between 6.92:12 and 6.93:12."""
    amount = _amount("30 deg", D.SLOPE)
    assert amount == tangent(30)
    assert compare(amount, _amount("30.0°", D.SLOPE)) == 0
    assert compare(amount, Fraction("6.92") / 12) == 1
    assert compare(amount, Fraction("6.93") / 12) == -1


def test_equal_quantities_may_be_written_differently() -> None:
    """Equality and hash go by dimension and amount; the text is kept, its spaces mended."""
    one, other = read("1 ft", D.LENGTH), read("12  in", D.LENGTH)
    assert one == other
    assert hash(one) == hash(other)
    assert isinstance(other, Quantity)
    assert other.text == "12 in"
    assert read("40 %", D.SHARE) != read("40 %", D.SLOPE)


LENGTH_EXPECTED = "a length with its unit, such as `3 1/16 in` or `78 mm`"
SLOPE_EXPECTED = "a slope of at least 0 and under 90 deg, such as `7:12` or `30 deg`"
COUNT_EXPECTED = "a count, a whole number such as `3`"
SHARE_EXPECTED = "a share, such as `40 %`, `1/150` or `1:300`"
LIKE = "write it as in `3 in` or `3 mm`"
LIKE_SLOPE = "write it as in `3:12` or `3 deg`"
ARABIC_THREE = "\N{ARABIC-INDIC DIGIT THREE}"

LENGTH_MISTAKES = [
    ("", "nothing", LIKE),
    ("3", "`3` without a unit", "write `3 in` or `3 mm`"),
    (3, "`3` without a unit", "write `3 in` or `3 mm`"),
    ("3 1/2", "`3 1/2` without a unit", "write `3 1/2 in` or `3 1/2 mm`"),
    ("3 1/0 in", "`3 1/0 in`, which divides by 0", "divide by a number other than 0"),
    ("1e400 mm", "`1e400 mm` with an exponent", "write the number out in digits"),
    (
        f"{ARABIC_THREE} in",
        f"`{ARABIC_THREE} in` with digits other than 0 to 9",
        "write it with the digits 0 to 9",
    ),
    (
        "3 17/16 in",
        "`3 17/16 in`, whose fraction `17/16` is 1 or more",
        "beside a whole number write a fraction under 1",
    ),
    (
        "5 ft 14 in",
        "`5 ft 14 in`, with 12 inches or more beside feet",
        "beside feet write inches from 0 to under 12",
    ),
    (
        "5 ft 12 in",
        "`5 ft 12 in`, with 12 inches or more beside feet",
        "beside feet write inches from 0 to under 12",
    ),
    ("5.5 ft 3 in", "`5.5 ft 3 in`, with a part of a foot beside inches", "write whole feet"),
    ("5 ft 3", "`5 ft 3`, inches without a unit", "write `5 ft 3 in`"),
    ("1 ft 2 mm", "`1 ft 2 mm`, with `mm` after feet", "after feet write inches"),
    ("3 deg", "`3 deg`, an angle or a slope", LIKE),
    ("7:12", "`7:12`, a slope or a ratio", LIKE),
    ("40 %", "`40 %`, a share or a slope", LIKE),
    ("3 ft2", "`3 ft2`, an area", LIKE),
    ("68 degF", "`68 degF`, a temperature", LIKE),
    ("3 ppm/degC", "`3 ppm/degC`, an expansion coefficient", LIKE),
    ("18 in2/ft", "`18 in2/ft`, an area per length", LIKE),
    ("30 days", "`30 days`, a number of days or weeks", LIKE),
    ("2 years", "`2 years`, a number of months or years", LIKE),
    ("nan", "`nan`, which is no measurement", "write the number that was read"),
    ("-inf mm", "`-inf mm`, which is no measurement", "write the number that was read"),
    ("x" * 65, f"`{'x' * 23}…`, 65 characters long", "write at most 64 characters"),
    (16**5000, "`0x100000000000000000000…`, 5003 characters long", "write at most 64 characters"),
    (
        "1234567890123 in",
        "`1234567890123 in` with more than 12 digits in a number",
        "write at most 12 digits",
    ),
    (
        "1234567.890123 in",
        "`1234567.890123 in` with more than 12 digits in a number",
        "write at most 12 digits",
    ),
    (
        "3,5 in",
        "`3,5 in` with a comma that does not part thousands",
        "write decimals with a point, `3.5 in`",
    ),
    (
        "1,0600.5 ft",
        "`1,0600.5 ft` with a comma that does not part thousands",
        "write thousands as `10,600` and decimals with a point",
    ),
    ("3 Inn", "`3 Inn`, whose unit `Inn` is not known", "did you mean `in`?"),
    ("3 furlongs", "`3 furlongs`, whose unit `furlongs` is not known", LIKE),
    ("3\x1b[1m", "`3\\x1b[1m`, whose unit `\\x1b[1m` is not known", LIKE),
    ("a handful", "`a handful`, which is not a number with a unit", LIKE),
    ("+3 in", "`+3 in`, which is not a number with a unit", LIKE),
]
OTHER_MISTAKES = [
    ("90 deg", D.SLOPE, "`90 deg`, as steep as a wall or steeper", "write a slope under 90 deg"),
    ("-5 %", D.SLOPE, "`-5 %`, a slope below 0", "write how steep it is, without a sign"),
    ("-7:12", D.SLOPE, "`-7:12`, a ratio below 0", "write the ratio without a sign"),
    ("-1/3", D.SLOPE, "`-1/3`, a ratio below 0", "write the ratio without a sign"),
    ("7:0", D.SLOPE, "`7:0`, which divides by 0", "divide by a number other than 0"),
    ("7:0.0", D.SHARE, "`7:0.0`, which divides by 0", "divide by a number other than 0"),
    (
        "5 13/12:12",
        D.SLOPE,
        "`5 13/12:12`, whose fraction `13/12` is 1 or more",
        "beside a whole number write a fraction under 1",
    ),
    ("7/0", D.SLOPE, "`7/0`, which divides by 0", "divide by a number other than 0"),
    ("7", D.SLOPE, "`7` without a unit", "write `7:12` or `7 deg`"),
    ("3 in", D.SLOPE, "`3 in`, a length", LIKE_SLOPE),
    ("-2", D.COUNT, "`-2`, which is less than 0", "write how many there are, 0 or more"),
    (-2, D.COUNT, "`-2`, which is less than 0", "write how many there are, 0 or more"),
    ("2.5", D.COUNT, "`2.5`, which is not whole", "write how many there are, in digits"),
    ("3 in", D.COUNT, "`3 in`, a length", "write it as in `3`"),
    ("few", D.COUNT, "`few`, which is not a whole number", "write it as in `3`"),
    (True, D.COUNT, "`True`, which is not a whole number", "write it as in `3`"),
    (
        "0.4",
        D.SHARE,
        "`0.4` without a unit",
        "write a percentage as `40 %` or a ratio as `1/150`",
    ),
    ("-1:3", D.SHARE, "`-1:3`, a ratio below 0", "write the ratio without a sign"),
    ("40 pct", D.SHARE, "`40 pct`, whose unit `pct` is not known", "write it as in `3 %`"),
    ("5 ft 3 in", D.AREA, "`5 ft 3 in`, a length", "write it as in `3 ft2` or `3 m2`"),
    ("7 mm", D.ANGLE, "`7 mm`, a length", "write it as in `3 deg`"),
    ("68", D.TEMPERATURE, "`68` without a unit", "write `68 degF` or `68 degC`"),
    ("60", D.TEMPERATURE_DIFFERENCE, "`60` without a unit", "write `60 degF` or `60 degC`"),
    ("80", D.EXPANSION, "`80` without a unit", "write `80 um/m/degC` or `80 ppm/degF`"),
    ("18", D.NET_FREE_AREA_PER_LENGTH, "`18` without a unit", "write `18 in2/ft` or `18 cm2/m`"),
    (
        "12 months",
        D.DURATION,
        "`12 months`, a number of months or years",
        "write it as in `3 days` or `3 weeks`",
    ),
    (
        "30 days",
        D.CALENDAR_MONTHS,
        "`30 days`, a number of days or weeks",
        "write it as in `3 months` or `3 years`",
    ),
]
MISTAKES = [(t, D.LENGTH, f, a) for t, f, a in LENGTH_MISTAKES] + OTHER_MISTAKES


@pytest.mark.parametrize(
    ("text", "dimension", "found", "advice"), MISTAKES, ids=range(len(MISTAKES))
)
def test_a_mistake_says_what_was_expected_found_and_is_to_do(
    text: str | int, dimension: Dimension, found: str, advice: str
) -> None:
    """Every kind of misreading gives its entire message."""
    assert read(text, dimension) == Mistake(EXPECTED[dimension], found, advice)


def test_the_table_of_mistakes_is_whole() -> None:
    """The table holds as many mistakes as were written, and touches every dimension."""
    assert (len(LENGTH_MISTAKES), len(OTHER_MISTAKES)) == (35, 27)
    assert {dimension for _, dimension, _, _ in MISTAKES} == set(Dimension)


def test_the_expectations_are_worded_as_promised() -> None:
    """The words for what was expected, for the dimensions read most."""
    assert EXPECTED[D.LENGTH] == LENGTH_EXPECTED
    assert EXPECTED[D.SLOPE] == SLOPE_EXPECTED
    assert EXPECTED[D.COUNT] == COUNT_EXPECTED
    assert EXPECTED[D.SHARE] == SHARE_EXPECTED


@given(st.text() | st.text("0123456789 -/.:,'\"infmtdeg%½", max_size=14), st.sampled_from(D))
def test_any_text_is_a_quantity_or_a_mistake(text: str, dimension: Dimension) -> None:
    """Whatever is written, reading never raises, and a mistake is never mute."""
    found = read(text, dimension)
    if isinstance(found, Mistake):
        assert found.expected
        assert found.found.isprintable()
        assert found.advice
    else:
        assert found.dimension is dimension
        assert not isinstance(found.amount, float)


@pytest.mark.parametrize("dimension", Dimension)
def test_the_advice_can_be_followed(dimension: Dimension) -> None:
    """Each form offered for a bare number is itself read."""
    for ending in OFFERED[dimension]:
        assert isinstance(read(f"3{ending}", dimension), Quantity)


INCH_PRINTS = [
    (INCH * 23 / 8, "2 7/8 in"),
    (INCH * 3 / 4, "3/4 in"),
    (INCH * 47 / 2, "23 1/2 in"),
    (24 * INCH, "2 ft"),
    (INCH * 57 / 2, "2 ft 4 1/2 in"),
    (INCH * 49 / 2, "2 ft 1/2 in"),
    (-INCH * 57 / 2, "-2 ft 4 1/2 in"),
    (-INCH / 4, "-1/4 in"),
    (0, "0 in"),
    (INCH * 105 / 1000, "0.105 in"),
    (78 * MM, "≈ 3.071 in"),
    (-78 * MM, "≈ -3.071 in"),
    (780 * MM, "≈ 2 ft 6.709 in"),
    (3048 * MM - 1, "≈ 10 ft 0.000 in"),
    (1, "≈ 0.00000004 in"),
    (Span(78 * MM, 78 * MM + 1), "≈ 3.071 in"),
    (Span(INCH * 23 / 32, INCH * 25 / 32), "23/32 in to 25/32 in"),
    (Span(INCH, None), "at least 1 in"),
    (Span(None, INCH), "at most 1 in"),
    (Span(None, None), "not known"),
]


@pytest.mark.parametrize(("amount", "text"), INCH_PRINTS)
def test_lengths_print_as_a_tape_reads(amount: Fraction | Span, text: str) -> None:
    """Whole inches and a fraction to 1/64, feet from 24 in up, `≈` only where rounded."""
    assert write(amount, D.LENGTH, units=Units.INCH) == text


PRINTS = [
    (Fraction("77.7875") * MM, D.LENGTH, Units.METRIC, "77.7875 mm"),
    (INCH * 4 / 3, D.LENGTH, Units.METRIC, "≈ 33.87 mm"),
    (999 * MM, D.LENGTH, Units.METRIC, "999 mm"),
    (5588 * MM, D.LENGTH, Units.METRIC, "5.588 m"),
    (INCH * 253 / 4, D.LENGTH, Units.METRIC, "1.60655 m"),
    (Fraction(10**10, 3), D.LENGTH, Units.METRIC, "≈ 3.333 m"),
    (Fraction(7, 12), D.SLOPE, Units.INCH, "7:12"),
    (Fraction(7, 12), D.SLOPE, Units.METRIC, "7:12"),
    (tangent(30), D.SLOPE, Units.INCH, "≈ 6.93:12"),
    (120, D.ANGLE, Units.METRIC, "120 deg"),
    (Fraction(11307, 100) + Fraction(1, 10**6), D.ANGLE, Units.INCH, "≈ 113.07 deg"),
    (144 * INCH**2, D.AREA, Units.INCH, "144 in²"),
    (7200 * INCH**2, D.AREA, Units.INCH, "50 ft²"),
    (143 * INCH**2, D.AREA, Units.INCH, "143 in²"),
    (2 * 10**18, D.AREA, Units.METRIC, "2 m²"),
    (5 * 10**17, D.AREA, Units.METRIC, "5000 cm²"),
    (20, D.TEMPERATURE, Units.INCH, "68 degF"),
    (20, D.TEMPERATURE, Units.METRIC, "20 degC"),
    (-20, D.TEMPERATURE, Units.INCH, "-4 degF"),
    (50, D.TEMPERATURE_DIFFERENCE, Units.INCH, "90 degF"),
    (Fraction(100, 3), D.TEMPERATURE_DIFFERENCE, Units.METRIC, "≈ 33.3 degC"),
    (3, D.COUNT, Units.INCH, "3"),
    (Fraction(2, 5), D.SHARE, Units.INCH, "40 %"),
    (Fraction(1, 150), D.SHARE, Units.METRIC, "1/150"),
    (Fraction(2, 3), D.SHARE, Units.METRIC, "≈ 66.67 %"),
    (Fraction(81, 10**6), D.EXPANSION, Units.INCH, "45 ppm/degF"),
    (Fraction(81, 10**6), D.EXPANSION, Units.METRIC, "81 um/m/degC"),
    (18 * INCH**2 / FOOT, D.NET_FREE_AREA_PER_LENGTH, Units.INCH, "18 in²/ft"),
    (18 * INCH**2 / FOOT, D.NET_FREE_AREA_PER_LENGTH, Units.METRIC, "381 cm²/m"),
    (1, D.DURATION, Units.INCH, "1 day"),
    (30, D.DURATION, Units.METRIC, "30 days"),
    (1, D.CALENDAR_MONTHS, Units.INCH, "1 month"),
    (24, D.CALENDAR_MONTHS, Units.METRIC, "24 months"),
    (Span(Fraction(-1, 2**99), Fraction(1, 2**98)), D.ANGLE, Units.INCH, "≈ 0.00 deg"),
]


@pytest.mark.parametrize(("amount", "dimension", "units", "text"), PRINTS)
def test_every_dimension_prints_in_both_systems(
    amount: Fraction | Span, dimension: Dimension, units: Units, text: str
) -> None:
    """Worked prints of each dimension, exact where the text is exact."""
    assert write(amount, dimension, units=units) == text


def test_every_dimension_is_printed_here() -> None:
    """The table of prints leaves no dimension out."""
    assert {dimension for _, dimension, _, _ in PRINTS} == set(Dimension)


SIGNED = {
    D.LENGTH, D.AREA, D.ANGLE, D.TEMPERATURE, D.TEMPERATURE_DIFFERENCE, D.EXPANSION,
    D.NET_FREE_AREA_PER_LENGTH, D.DURATION, D.CALENDAR_MONTHS,
}  # fmt: skip


@given(
    st.sampled_from(D),
    st.sampled_from(Units),
    st.integers(-(10**6), 10**6),
    st.sampled_from([1, 2, 3, 8, 12, 25, 64, 100]),
    st.data(),
)
def test_what_is_printed_plainly_reads_back_the_same(
    dimension: Dimension, units: Units, top: int, bottom: int, data: st.DataObject
) -> None:
    """Writing then reading gives the same amount, whenever nothing was rounded."""
    unit = (
        UNITS[dimension][data.draw(st.sampled_from(sorted(UNITS[dimension])))]
        if (UNITS[dimension])
        else None
    )
    number = Fraction(top if dimension in SIGNED else abs(top), bottom)
    amount = abs(top) if unit is None else (number - unit.zero) * unit.scale
    text = write(amount, dimension, units=units)
    assume(not text.startswith("≈"))
    assert _amount(text, dimension) == amount


@given(st.lists(st.integers(0, 64 * 500), min_size=2, max_size=6), st.sampled_from(Units))
def test_a_change_of_units_keeps_the_order(sixty_fourths: list[int], units: Units) -> None:
    """Lengths sorted on the tape are sorted when printed in either system and read again."""
    lengths = [396_875 * n for n in sorted(sixty_fourths)]
    printed = [write(n, D.LENGTH, units=units).removeprefix("≈ ") for n in lengths]
    again = [_amount(text, D.LENGTH) for text in printed]
    assert all(compare(a, b) in {-1, 0} for a, b in pairwise(again))
    # The metric print rounds to 0.01 mm, and from 1 m up to 1 mm.
    for length, read_again in zip(lengths, again, strict=True):
        assert abs(read_again - length) <= (5000 if length < 10**9 else 500_000)


@pytest.mark.parametrize(
    ("text", "units"),
    [
        ("3 in", Units.INCH),
        ("5'3\"", Units.INCH),
        ("2 ft 4 1/2 in", Units.INCH),
        ("78 mm", Units.METRIC),
        ("20 degC", Units.METRIC),
        ("18 in2/ft", Units.INCH),
        ("7:12", None),
        ("30 deg", None),
        ("40 %", None),
        ("a handful", None),
        ("a handful of 3", None),
        ("3 furlongs", None),
        ("3" * 65, None),
    ],
)
def test_a_reading_tells_its_system(text: str, units: Units | None) -> None:
    """Inches and millimetres are told apart; what both systems use tells nothing."""
    assert units_of(text) is units


@pytest.mark.parametrize(
    ("text", "dimension", "data"),
    [
        ("3 1/16 in", D.LENGTH, {"exact": "6223/80000", "unit": "m"}),
        ("2 m", D.LENGTH, {"exact": "2", "unit": "m"}),
        ("1 in2", D.AREA, {"exact": "16129/25000000", "unit": "m2"}),
        ("7:12", D.SLOPE, {"exact": "7/12", "unit": "1"}),
        ("120 deg", D.ANGLE, {"exact": "120", "unit": "deg"}),
        ("20 degC", D.TEMPERATURE, {"exact": "5863/20", "unit": "K"}),
        ("20 degC", D.TEMPERATURE_DIFFERENCE, {"exact": "20", "unit": "K"}),
        ("3", D.COUNT, {"exact": "3", "unit": "1"}),
        ("40 %", D.SHARE, {"exact": "2/5", "unit": "1"}),
        ("80 ppm/K", D.EXPANSION, {"exact": "1/12500", "unit": "1/K"}),
        ("381 cm2/m", D.NET_FREE_AREA_PER_LENGTH, {"exact": "381/10000", "unit": "m2/m"}),
        ("2 weeks", D.DURATION, {"exact": "14", "unit": "d"}),
        ("2 years", D.CALENDAR_MONTHS, {"exact": "24", "unit": "month"}),
        (
            "30 deg",  # tan 30 deg = 0.57735026918962576...
            D.SLOPE,
            {"value": "0.577350269190", "bound": "0.000000000000375", "unit": "1"},
        ),
    ],
)
def test_data_files_get_exact_values_in_si(
    text: str, dimension: Dimension, data: dict[str, str]
) -> None:
    """Exact amounts are fractions in SI, enclosed ones a decimal and how far off it can be."""
    quantity = read(text, dimension)
    assert isinstance(quantity, Quantity)
    assert exact_si(quantity) == data


@pytest.mark.parametrize(
    ("span", "data"),
    [
        (Span(10**9, None), {"at_least": "1", "unit": "m"}),
        (Span(None, 10**9), {"at_most": "1", "unit": "m"}),
        (Span(None, None), {"unit": "m"}),
        (
            Span(-3 * 10**9, 10**9),
            {"value": "-1.000000000000", "bound": "2.000000000000000", "unit": "m"},
        ),
    ],
)
def test_data_files_get_the_ends_of_a_span(span: Span, data: dict[str, str]) -> None:
    """A span open on a side gives the end it has; one with both gives its middle and reach."""
    assert exact_si(Quantity(D.LENGTH, span, "")) == data


@given(st.fractions(-1000, 1000), st.fractions(0, 1))
def test_a_bound_reaches_both_ends(low: Fraction, width: Fraction) -> None:
    """The stated value and bound hold the whole span, rounding included."""
    assume(width > 0)
    data = exact_si(Quantity(D.SLOPE, Span(low, low + width), ""))
    value, bound = Fraction(data["value"]), Fraction(data["bound"])
    assert value - bound <= low
    assert low + width <= value + bound
    assert bound <= width / 2 + Fraction(1, 10**12)

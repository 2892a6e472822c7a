"""Facts: the engine's table is sane, and what a file says of a fact is read or told."""

from __future__ import annotations

import datetime as dt
from itertools import product
from typing import TYPE_CHECKING

import pytest

from ridgerule.audit.places import MANY, ONE
from ridgerule.facts import (
    SECTIONS,
    Element,
    Fact,
    FactRef,
    LineKind,
    Over,
    Plain,
    Vocabulary,
    described,
    names_a_fact,
    out_of_range,
    read_date,
    read_value,
    value_range,
)
from ridgerule.misreadings import Mistake
from ridgerule.quantities import Dimension, Quantity, read
from ridgerule.record import COMPLETE_KEYS, STRUCTURE, unknown_reason
from ridgerule.vocabulary import VOCABULARY

if TYPE_CHECKING:
    from ridgerule.facts import Value

INCH = 25_400_000  # nanometres (NIST SP 811)


def fact(name: str) -> Fact:
    """Return an engine's fact by its full name."""
    return VOCABULARY.by_name[name]


def mistake(found: object) -> Mistake:
    """Return what must be a mistake."""
    assert isinstance(found, Mistake), found
    return found


# the table


def test_vocabulary_has_not_shrunk() -> None:
    """The engine declares facts for every element, each under a name of its own."""
    assert len(VOCABULARY.facts) == len(VOCABULARY.by_name) >= 90
    assert {found.element for found in VOCABULARY.facts} == set(Element)
    assert sum(map(len, VOCABULARY.by_element.values())) == len(VOCABULARY.facts)


@pytest.mark.parametrize("found", VOCABULARY.facts, ids=lambda found: found.full_name)
def test_fact_says_how_it_is_measured(found: Fact) -> None:
    """Clause 2: a fact has a measuring definition and a question, and fits its dimension."""
    assert found.measure.strip() == found.measure != ""
    assert found.ask.endswith("?")
    assert names_a_fact(found.full_name)
    assert found.origin == "engine"
    assert bool(found.choices) == (found.dimension is Plain.CHOICE)
    assert len(set(found.choices)) == len(found.choices)
    is_quantity = isinstance(found.dimension, Dimension)
    assert is_quantity or (found.least is None and found.greatest is None)
    if found.dimension in (Dimension.LENGTH, Dimension.AREA, Dimension.ANGLE, Dimension.COUNT):
        assert found.least is not None
        assert found.least.amount == 0
    assert bool(found.section) == bool(found.key)
    assert not found.section or found.element is Element.ROOF


@pytest.mark.parametrize("found", VOCABULARY.facts, ids=lambda found: found.full_name)
def test_fact_stands_in_no_other_keys_way(found: Fact) -> None:
    """A fact's name is no key that a record keeps for its own build-up."""
    assert found.name not in STRUCTURE[found.element] | {"note", "photo"}
    assert all(unknown_reason(choice) == "" for choice in found.choices)


def test_closed_lists_agree() -> None:
    """Lines have the kinds that the engine knows; every listed element can be complete."""
    assert fact("line.kind").choices == tuple(LineKind)
    assert set(COMPLETE_KEYS.values()) == {*LineKind, *SECTIONS} - {Element.LINE}
    for of, others in {**ONE, **MANY}.items():
        assert of not in others


def test_extended_keeps_the_first_meaning() -> None:
    """A vocabulary grows by new names alone."""
    own = Fact(element=Element.LINE, name="lining", dimension=Plain.TEXT, measure="a test")
    twin = Fact(element=Element.LINE, name="length", dimension=Plain.TEXT, measure="a test")
    grown = VOCABULARY.extended([own, twin])
    assert grown.by_name["line.lining"] is own
    assert grown.by_name["line.length"].dimension is Dimension.LENGTH
    assert len(grown.facts) == len(VOCABULARY.facts) + 1


# find

FOUND = [("station.gap", None), *((f"{over} station.gap", over) for over in Over)]


@pytest.mark.parametrize(("text", "over"), FOUND)
def test_find(text: str, over: Over | None) -> None:
    """A fact is found with each word for one over many, and written back as it was named."""
    found = VOCABULARY.find(text)
    assert found == FactRef(fact("station.gap"), over)
    assert str(found) == text


NOT_FOUND: list[tuple[str, str, str, str]] = [
    # text, expected, found, advice
    ("gap", "such as `station.gap`", "`gap`", ""),
    ("station gap", "such as `station.gap`", "`station gap`", ""),
    ("the least station.gap", "such as `station.gap`", "`the least station.gap`", ""),
    ("Station.Gap", "such as `station.gap`", "`Station.Gap`", ""),
    ("station.", "such as `station.gap`", "`station.`", ""),
    ("", "such as `station.gap`", "``", ""),
    ("every station.gap", "`each`", "`every`", ""),
    ("average station.gap", "`mean`", "`average`", ""),
    ("station.gpa", "declares", "`station.gpa`", "did you mean `station.gap`?"),
    ("each plane.slop", "declares", "`plane.slop`", "did you mean `plane.slope`?"),
    ("chimney.height", "declares", "`chimney.height`", ""),
    ("line.zzzzzzzz", "declares", "`line.zzzzzzzz`", "book facts"),
]


def test_what_is_not_found_is_much() -> None:
    """The table of names that are not found has not shrunk, and all words are found."""
    assert len(NOT_FOUND) == 12
    assert len(FOUND) == len(Over) + 1 == 8


@pytest.mark.parametrize(("text", "expected", "found", "advice"), NOT_FOUND)
def test_find_tells(text: str, expected: str, found: str, advice: str) -> None:
    """A name that is not found is told with what was expected, found, and what may be meant."""
    told = mistake(VOCABULARY.find(text))
    assert expected in told.expected
    assert found in told.found
    assert advice in told.advice


def test_find_in_an_empty_vocabulary() -> None:
    """A vocabulary that knows nothing finds nothing and suggests nothing."""
    assert "did you mean" not in mistake(Vocabulary(()).find("station.gap")).advice


NAMES = [
    ("station.gap", True),
    ("each plane.slope", True),
    ("3.5 in", False),
    ("905.10", False),
    ("h1.jpg", False),
    ("a.b", False),
    ("station.Gap", False),
    ("station", False),
    ("", False),
    (" ", False),
    (7, False),
    (None, False),
    (True, False),
]


@pytest.mark.parametrize(("text", "expected"), NAMES)
def test_names_a_fact(text: object, *, expected: bool) -> None:
    """Only an element, a point and a small name is taken for another fact rather than a value."""
    assert names_a_fact(text) is expected


# read_value

LENGTH, COUNT, SLOPE = fact("line.length"), fact("sample.lot"), fact("plane.slope")
FLAG, CHOICE, TEXT, DATE = (
    fact("line.vented"),
    fact("line.kind"),
    fact("roof.place"),
    fact("roof.permit_date"),
)
READ: list[tuple[Fact, object, Value]] = [
    (LENGTH, "2 ft", Quantity(Dimension.LENGTH, 24 * INCH, "")),
    (LENGTH, "25.4 mm", Quantity(Dimension.LENGTH, INCH, "")),
    (COUNT, 7, Quantity(Dimension.COUNT, 7, "")),
    (COUNT, "7", Quantity(Dimension.COUNT, 7, "")),
    (FLAG, True, True),
    (FLAG, False, False),
    (FLAG, "yes", True),
    (FLAG, "No", False),
    (FLAG, "TRUE", True),
    (CHOICE, "hip", "hip"),
    (fact("roof.climate_zone"), 5, "5"),
    (fact("roof.code_edition"), 2024, "2024"),
    (TEXT, "Tarn", "Tarn"),
    (TEXT, 905, "905"),
    (DATE, "2026-03-02", dt.date(2026, 3, 2)),
    (DATE, "2024-02-29", dt.date(2024, 2, 29)),
]


@pytest.mark.parametrize(("of", "raw", "value"), READ)
def test_read_value(of: Fact, raw: object, value: Value) -> None:
    """What stands in a file is read by the fact's own type."""
    found = read_value(raw, of)
    assert found == value
    assert type(found) is type(value)


UNREAD: list[tuple[Fact, object, str, str, str]] = [
    # fact, what stands there, expected, found, advice
    (LENGTH, True, "a length for `length`", "`true`", ""),
    (LENGTH, ["2 ft"], "a length for `length`", "a list", ""),
    (LENGTH, {"at": "2 ft"}, "a length for `length`", "a mapping", ""),
    (LENGTH, 7, "length", "`7` without a unit", "`7 in`"),
    (LENGTH, "7:12", "length", "a slope or a ratio", ""),
    (SLOPE, "2 ft", "slope", "a length", ""),
    (COUNT, "2.5", "whole number", "which is not whole", ""),
    (COUNT, None, "a count for `lot`", "nothing", ""),
    (FLAG, "perhaps", "`yes` or `no`", "`perhaps`", "`unknown`"),
    (FLAG, 1, "`yes` or `no`", "`1`", "`unknown`"),
    (FLAG, "on", "`yes` or `no`", "`on`", ""),
    (FLAG, None, "`yes` or `no`", "nothing", ""),
    (CHOICE, "hipp", "`hip`, `ridge`", "`hipp`", "did you mean `hip`?"),
    (CHOICE, "Hip", "`hip`, `ridge`", "`Hip`", ""),
    (CHOICE, True, "`hip`, `ridge`", "`true`", ""),
    (CHOICE, ["hip"], "`hip`, `ridge`", "a list", ""),
    (TEXT, False, "text", "`false`", "quotes"),
    (TEXT, {}, "text", "a mapping", "quotes"),
    (DATE, "2026-3-2", "2026-03-02", "`2026-3-2`", ""),
    (DATE, "02/03/2026", "2026-03-02", "`02/03/2026`", ""),
    (DATE, "2026-02-30", "2026-03-02", "`2026-02-30`", "no such day"),
    (DATE, 20260302, "2026-03-02", "`20260302`", ""),
    (DATE, None, "2026-03-02", "nothing", ""),
]


def test_readings_are_many() -> None:
    """The tables of what can and can't be read have not shrunk, and hold every type of fact."""
    assert (len(READ), len(UNREAD), len(NAMES)) == (16, 23, 13)
    kinds = {Dimension.LENGTH, Dimension.COUNT, *Plain}
    assert {of.dimension for of, _ in (row[:2] for row in READ)} == kinds
    assert {row[0].dimension for row in UNREAD} >= kinds


@pytest.mark.parametrize(("of", "raw", "expected", "found", "advice"), UNREAD)
def test_read_value_tells(of: Fact, raw: object, expected: str, found: str, advice: str) -> None:
    """What can't be read is told with what was expected, found, and what to write."""
    told = mistake(read_value(raw, of))
    assert expected in told.expected
    assert found in told.found
    assert advice in told.advice


def test_dates_of_other_digits_are_refused() -> None:
    """A date is written in the digits 0 to 9 (ISO 8601)."""
    assert isinstance(read_date("٢٠٢٦-٠٣-٠٢"), Mistake)
    assert isinstance(read_date("2026-W10-1"), Mistake)


# out_of_range

RANGES: list[tuple[str, str, str]] = [
    # fact, reading, what is told: nothing where it can be right
    ("plane.deck_thickness", "6 in", ""),
    ("plane.deck_thickness", "6 1/64 in", "`deck_thickness` of at most 6 in"),
    ("plane.deck_thickness", "0 in", ""),
    ("plane.deck_thickness", "-1/64 in", "`deck_thickness` of at least 0 in"),
    ("line.length", "1000 ft", ""),
    ("line.length", "1001 ft", "`length` of at most 1000 ft"),
    ("plane.faces", "360 deg", ""),
    ("plane.faces", "361 deg", "`faces` of at most 360 deg"),
    ("line.cap_profile", "180 deg", ""),
    ("line.cap_profile", "181 deg", "`cap_profile` of at most 180 deg"),
    ("roof.air_temperature", "-60 degC", ""),
    ("roof.air_temperature", "-77 degF", "`air_temperature` of at least -60 degC"),
    ("roof.air_temperature", "249 degF", "`air_temperature` of at most 120 degC"),
    ("roof.air_temperature", "248 degF", ""),  # 120 °C exactly
    ("plane.area", "9999999 ft2", ""),
]


def test_ranges_are_many() -> None:
    """The table of ranges has not shrunk."""
    assert len(RANGES) == 15


@pytest.mark.parametrize(("name", "reading", "told"), RANGES)
def test_out_of_range(name: str, reading: str, told: str) -> None:
    """A reading that can't be right is told with the range; on the range's end it can be."""
    value = read_value(reading, fact(name))
    assert isinstance(value, Quantity)
    found = out_of_range(value, fact(name))
    assert (found is None) == (told == "")
    if found is not None:
        assert (found.expected, found.found) == (told, f"`{reading}`")
        assert "unit" in found.advice


def test_words_have_no_range() -> None:
    """Only a quantity can be out of range."""
    values: tuple[Value, ...] = (True, "hip", dt.date(2026, 3, 2))
    assert [out_of_range(value, LENGTH) for value in values] == [None, None, None]


def test_value_range() -> None:
    """A range is what the fact says, else what no reading of the dimension can go beyond."""
    assert value_range(Dimension.LENGTH) == (
        read("0 in", Dimension.LENGTH),
        read("1000 ft", Dimension.LENGTH),
    )
    given = value_range(Dimension.LENGTH, least="1 in", greatest="2 in")
    assert given == (read("1 in", Dimension.LENGTH), read("2 in", Dimension.LENGTH))
    assert value_range(Dimension.COUNT) == (read("0", Dimension.COUNT), None)
    assert value_range(Plain.TEXT) == (None, None)
    assert isinstance(value_range(Dimension.LENGTH, least="2 kg"), Mistake)


DESCRIBED = [
    (None, "nothing"),
    (True, "`true`"),
    ([1], "a list"),
    ({}, "a mapping"),
    ("7:12", "`7:12`"),
    (7, "`7`"),
    ("a\nb", "`a\\nb`"),
]


@pytest.mark.parametrize(("raw", "words"), DESCRIBED)
def test_described(raw: object, words: str) -> None:
    """What stands in a file is described on one line, in words fit for a message."""
    assert described(raw) == words


# what a record leaves open

LEFT = "left blank"
REASONS: list[tuple[object, str]] = [
    (None, LEFT),
    *((text, LEFT) for text in ("", " ", "\t", "\n")),
    *(
        ("".join(made), "can't reach")
        for made in product(("can", "Can"), ("'", "\N{RIGHT SINGLE QUOTATION MARK}"), ("t reach",))
    ),
    ("cannot  reach", "can't reach"),
    *((text, "unknown") for text in ("unknown", "Unknown", " UNKNOWN ")),
    *((raw, "") for raw in ("none", "no", "0", "unknown to us", False, 0, [], {})),
]


@pytest.mark.parametrize(("raw", "reason"), REASONS)
def test_unknown_reason(raw: object, reason: str) -> None:
    """Clause 4: blank and the words for not knowing have their reasons; a value has none."""
    assert unknown_reason(raw) == reason


def test_reasons_are_many() -> None:
    """The tables of reasons and descriptions have not shrunk."""
    assert (len(REASONS), len(DESCRIBED)) == (21, 7)

"""A fastener goes through the deck or deep enough into it, judged at both ends of what is known."""

from __future__ import annotations

from fractions import Fraction
from typing import TYPE_CHECKING

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from ridgerule.enclosures import UNBOUNDED, Span, add, high, low
from ridgerule.quantities import Dimension, Quantity, read
from ridgerule.trade.certainty import is_at_most, is_more_than, lesser, not_negative, positive
from ridgerule.trade.fastening import (
    goes_through,
    meets_through_or,
    penetration,
    penetration_by_protrusion,
    required_length,
)
from ridgerule.trade.working import written
from ridgerule.units import NM_PER_INCH, Units

if TYPE_CHECKING:
    from collections.abc import Callable

    from ridgerule.enclosures import Amount


def _length(text: str) -> Amount:
    """Return a length as a record gives it."""
    quantity = read(text, Dimension.LENGTH)
    assert isinstance(quantity, Quantity), text
    return quantity.amount


def _between(least: str, most: str) -> Span:
    return Span(_length(least), _length(most))


# What a mark says about actual thickness: PS 1, category 15/32, 19/32 and 3/4 (recalled).
MARK_15_32 = _between("0.438 in", "0.500 in")
MARK_19_32 = _between("0.563 in", "0.625 in")
MARK_3_4 = _between("0.719 in", "0.781 in")
# IRC R905.2.5 and UFGS 07310 (recalled): at least 3/4 in, or through.
LEAST = _length("3/4 in")
# An invented build-up: two slates of a composite 1/4 in thick, and a sheet of 40 mils.
PASSED = [
    ("upper slate", _length("1/4 in")),
    ("lower slate", _length("1/4 in")),
    ("membrane", _length("40 mil")),
]

lengths = st.integers(1, 200).map(lambda n: n * NM_PER_INCH // 64)
thicknesses = st.integers(0, 40).map(lambda n: n * NM_PER_INCH // 64)
decks = st.tuples(lengths, thicknesses).map(lambda d: Span(d[0], d[0] + d[1]) if d[1] else d[0])


def test_a_fastener_is_deep_by_what_it_has_left_below_the_layers() -> None:
    """1 1/2 in less two slates and a membrane leaves 0.96 in below the deck's upper face."""
    found = penetration(_length("1 1/2 in"), PASSED, deck=_length("1/2 in"))
    assert found.depth == _length("0.96 in")
    assert found.beyond == _length("0.46 in")
    assert goes_through(found) is True


def test_a_fastener_that_stops_short_has_no_depth() -> None:
    """A nail that ends in the slates is 0 deep and goes through no deck, measured or not."""
    for deck in (MARK_15_32, _length("1/2 in"), Span(0, None)):
        found = penetration(_length("1/2 in"), PASSED, deck=deck)
        assert found.depth == 0
        assert high(found.beyond) < 0
        assert goes_through(found) is False
        assert meets_through_or(found, least=LEAST) is False


def test_level_with_the_underside_is_not_through() -> None:
    """A point that does not show under the deck has not gone through; the least 1/64 in has."""
    deck = _length("1/2 in")
    level = penetration(_length("1 in"), PASSED[:2], deck=deck)
    assert level.beyond == 0
    assert goes_through(level) is False
    assert meets_through_or(level, least=LEAST) is False
    longer = penetration(_length("1 1/64 in"), PASSED[:2], deck=deck)
    assert goes_through(longer) is True
    assert meets_through_or(longer, least=LEAST) is True


def test_the_least_penetration_is_met_on_the_limit() -> None:
    """In a plank 3/4 in deep is deep enough, 47/64 in is not (FEMA P-499 sheet 7.3, recalled)."""
    plank = _length("1 1/2 in")
    for length, enough in (("3/4 in", True), ("47/64 in", False), ("49/64 in", True)):
        found = penetration(_length(length), [], deck=plank)
        assert meets_through_or(found, least=LEAST) is enough, length


# A panel known by its mark, a fastener by what it has below the slates, and the answers.
MARKED = [
    (MARK_15_32, "0.51 in", True, True),
    (MARK_15_32, "0.50 in", None, None),
    (MARK_15_32, "0.44 in", None, None),
    (MARK_15_32, "0.438 in", False, False),
    (MARK_19_32, "0.63 in", True, True),
    (MARK_3_4, "0.70 in", False, False),
    (MARK_3_4, "0.73 in", None, None),
    (MARK_3_4, "0.75 in", None, True),
    (MARK_3_4, "0.79 in", True, True),
]


@pytest.mark.parametrize(("deck", "length", "through", "enough"), MARKED)
def test_a_marked_panel_is_judged_at_both_ends(
    deck: Span, length: str, through: bool | None, enough: bool | None
) -> None:
    """Only where the thinnest and the thickest panel of a mark disagree is there no answer."""
    found = penetration(_length(length), [], deck=deck)
    assert goes_through(found) is through
    assert meets_through_or(found, least=LEAST) is enough


def test_an_unmeasured_deck_leaves_through_open_and_depth_known() -> None:
    """With no deck thickness, 3/4 in deep is enough all the same; less is not known."""
    deep = penetration(_length("2 in"), PASSED)
    assert goes_through(deep) is None
    assert meets_through_or(deep, least=LEAST) is True
    shallow = penetration(_length("1 in"), PASSED)
    assert shallow.depth == _length("0.46 in")
    assert meets_through_or(shallow, least=LEAST) is None


def test_a_point_that_shows_has_gone_through_whatever_the_deck() -> None:
    """The deck's own doubt cancels: what stands out below is through at both ends."""
    found = penetration_by_protrusion(_length("1/16 in"), deck=MARK_15_32)
    assert found.depth == Span(_length("0.5005 in"), _length("0.5625 in"))
    assert goes_through(found) is True
    assert meets_through_or(found, least=LEAST) is True
    level = penetration_by_protrusion(0, deck=MARK_3_4)
    assert goes_through(level) is False
    assert meets_through_or(level, least=LEAST) is None
    assert meets_through_or(level, least=_length("0.7 in")) is True


# Deck, least and the fastener's needed length below 0.54 in of layers; IRC and UFGS (recalled).
REQUIRED = [
    (_length("1/2 in"), "1.04 in", "1.04 in", True),
    (_length("1 1/2 in"), "1.29 in", "1.29 in", False),
    (_length("3/4 in"), "1.29 in", "1.29 in", False),
    (MARK_15_32, "0.978 in", "1.04 in", True),
    (MARK_3_4, "1.259 in", "1.29 in", None),
]


@pytest.mark.parametrize(("deck", "least", "most", "must_exceed"), REQUIRED)
def test_the_required_length_is_the_lesser_of_the_two(
    deck: Amount, least: str, most: str, must_exceed: bool | None
) -> None:
    """Through a thin deck, the least penetration into a thick one, an interval in between."""
    found = required_length(PASSED, deck=deck, least=LEAST)
    assert (low(found.length), high(found.length)) == (_length(least), _length(most))
    assert found.must_exceed is must_exceed


@given(lengths, st.lists(thicknesses, max_size=3), lengths, lengths)
def test_the_required_length_is_what_just_meets(
    length: int, passed: list[int], deck: int, least: int
) -> None:
    """A fastener meets the rule exactly when it is as long as asked, or longer where it must be."""
    layers = [(f"layer {n}", t) for n, t in enumerate(passed)]
    asked = required_length(layers, deck=deck, least=least)
    enough = length > asked.length if asked.must_exceed else length >= asked.length
    assert meets_through_or(penetration(length, layers, deck=deck), least=least) is enough


@given(lengths, thicknesses, decks, lengths)
def test_an_interval_answers_just_what_all_its_decks_answer(
    length: int, layer: int, deck: Amount, least: int
) -> None:
    """Both ends and the middle of a deck agree with the answer, and None is a real split."""
    layers = [("slate", layer)]
    middle = Fraction(low(deck) + high(deck)) / 2
    for judge in (goes_through, lambda p: meets_through_or(p, least=least)):
        answer = judge(penetration(length, layers, deck=deck))
        each = {judge(penetration(length, layers, deck=d)) for d in (low(deck), middle, high(deck))}
        assert each == ({True, False} if answer is None else {answer})


@given(lengths, thicknesses, decks, lengths)
def test_a_longer_fastener_is_never_worse(
    length: int, layer: int, deck: Amount, least: int
) -> None:
    """Length never turns a pass into less, and layers never make one."""
    order = {False: 0, None: 1, True: 2}
    shorter = penetration(length, [("slate", layer)], deck=deck)
    longer = penetration(length + NM_PER_INCH // 64, [("slate", layer)], deck=deck)
    bare = penetration(length, [], deck=deck)
    for judge in (goes_through, lambda p: meets_through_or(p, least=least)):
        assert order[judge(shorter)] <= order[judge(longer)]
        assert order[judge(shorter)] <= order[judge(bare)]


@given(lengths, thicknesses, lengths)
def test_the_point_shows_by_what_depth_has_over_the_deck(
    length: int, layer: int, deck: int
) -> None:
    """Measured from below, a fastener is as deep as worked out from above."""
    above = penetration(length, [("slate", layer)], deck=deck)
    assume(above.beyond >= 0)
    below = penetration_by_protrusion(above.beyond, deck=deck)
    assert (below.depth, below.beyond) == (above.depth, above.beyond)


def test_units_never_matter() -> None:
    """Inches or millimetres, the same nail is as deep."""
    inches = penetration(_length("2 in"), [("slate", _length("1/4 in"))], deck=_length("1/2 in"))
    mm = penetration(_length("50.8 mm"), [("slate", _length("6.35 mm"))], deck=_length("12.7 mm"))
    assert inches == mm


def test_the_working_names_every_layer() -> None:
    """Each layer, their sum, the depth and what shows below stand in the working."""
    found = penetration(_length("1 1/2 in"), PASSED, deck=_length("1/2 in"))
    assert [written(step, units=Units.INCH) for step in found.steps] == [
        "fastener, under its head: 1 1/2 in",
        "upper slate: 1/4 in",
        "lower slate: 1/4 in",
        "membrane: 0.04 in",
        "layers in all: sum of the layers above the deck = 0.54 in",
        "depth: fastener less layers in all, 0 if short of the deck = 0.96 in",
        "deck: 1/2 in",
        "beyond the deck: fastener less layers in all less deck, below 0 inside the deck = 0.46 in",
    ]
    assert penetration(_length("1 in"), []).steps[-1].label == "depth"
    asked = required_length(PASSED, deck=MARK_3_4, least=LEAST)
    assert asked.steps[-1].amount == asked.length
    shown = penetration_by_protrusion(_length("1/8 in"), deck=MARK_3_4)
    assert shown.steps[-1].amount == shown.depth


IMPOSSIBLE = [
    (lambda: penetration(0, []), "length under its head is more than 0"),
    (lambda: penetration(1, [("slate", -1)]), "thickness of slate is 0 or more"),
    (lambda: penetration(1, [], deck=0), "deck's thickness is more than 0"),
    (lambda: penetration(1, [], deck=Span(-2, 0)), "deck's thickness is more than 0"),
    (lambda: penetration_by_protrusion(-1, deck=1), "stands out of the deck is 0 or more"),
    (lambda: penetration_by_protrusion(1, deck=0), "deck's thickness is more than 0"),
    (lambda: meets_through_or(penetration(1, []), least=0), "least penetration is more than 0"),
    (lambda: required_length([], deck=-1, least=1), "deck's thickness is more than 0"),
    (lambda: required_length([], deck=1, least=-1), "least penetration is more than 0"),
]


@pytest.mark.parametrize(("figure", "message"), IMPOSSIBLE, ids=range(len(IMPOSSIBLE)))
def test_what_no_fastener_can_be_is_refused(figure: Callable[[], object], message: str) -> None:
    """An impossible length, layer, deck or limit is named in a ValueError."""
    with pytest.raises(ValueError, match=message):
        figure()


# what is certain of amounts

COMPARED = [
    (1, 2, True),
    (2, 2, True),
    (3, 2, False),
    (Span(1, 2), 2, True),
    (Span(1, 3), 2, None),
    (Span(2, 3), 2, None),
    (Span(3, 4), Span(1, 2), False),
    (Span(1, 2), Span(2, 3), True),
    (Span(2, 3), Span(1, 2), None),
    (Span(1, 2, "x"), Span(1, 2, "x"), True),
    (Span(1, 2, "x"), Span(1, 2, "y"), None),
    (Span(None, 2), Span(3, None), True),
    (UNBOUNDED, 2, None),
]


@pytest.mark.parametrize(("a", "b", "answer"), COMPARED)
def test_a_comparison_answers_only_what_is_certain(
    a: Amount, b: Amount, answer: bool | None
) -> None:
    """Yes where every value agrees, no where none does, else None; `more` is the opposite."""
    assert is_at_most(a, b) is answer
    assert is_more_than(a, b) is (None if answer is None else not answer)


LESSER = [
    (1, 2, 1),
    (Span(1, 2), 2, Span(1, 2)),
    (Span(1, 3), 2, Span(1, 2)),
    (Span(1, 4), Span(2, 3), Span(1, 3)),
    (Span(None, 3), 2, Span(None, 2)),
    (Span(1, None), 2, Span(1, 2)),
    (Span(1, None), Span(2, None), Span(1, None)),
    (UNBOUNDED, UNBOUNDED, UNBOUNDED),
]


@pytest.mark.parametrize(("a", "b", "found"), LESSER)
def test_the_lesser_of_two_intervals_holds_the_lesser_of_any_two_values(
    a: Amount, b: Amount, found: Amount
) -> None:
    """The lesser comes back as it is where it is certain, else as the interval it lies in."""
    assert lesser(a, b) == found
    assert lesser(b, a) == found


def test_an_interval_is_cut_off_at_nothing() -> None:
    """A small reading less its uncertainty loses what can't be, and keeps its name."""
    assert not_negative(Span(-1, 2, "x"), name="it") == Span(0, 2, "x")
    assert not_negative(Span(None, 2), name="it") == Span(0, 2)
    assert not_negative(Span(-1, 0), name="it") == 0
    assert not_negative(Span(1, 2), name="it") == Span(1, 2)
    assert positive(Span(-1, None), name="it") == Span(0, None)
    assert add(positive(UNBOUNDED, name="it"), 1) == Span(1, None)

"""What a re-inspection says in words: how far readings moved, which editions, what to do."""

from __future__ import annotations

from typing import Any

import pytest

from ridgerule.quantities import Dimension, Quantity
from ridgerule.reports.page import Page
from ridgerule.reports.reinspection_sheet import edition_words, reinspection_sheet
from ridgerule.reports.reinspection_view import (
    MOST_CHANGES,
    ChangeView,
    ReinspectionView,
    Section,
    reinspection_view,
)
from ridgerule.reports.sheet_text import as_text
from ridgerule.reports.view import Settings
from ridgerule.review.reinspection import reinspect
from ridgerule.review.reinspection_rules import BookPair
from ridgerule.units import NM_PER_INCH
from workshop import all_listed, amendment, audit, plan, rule, rulebook

DAYS = ("2026-05-01", "2026-06-01")
PLANES = {"S": {"faces": "180 deg"}, "N": {"faces": "0 deg"}}
SIX_INCHES = Quantity(Dimension.LENGTH, 6 * NM_PER_INCH, "6 in")


def view(first: dict[str, Any], second: dict[str, Any], *books: str) -> ReinspectionView:
    """Return the re-inspection of two records by the first of the rulebooks, in words."""
    against = plan(*books)
    whole = {"complete": all_listed(), "planes": PLANES}
    done = [
        audit(whole | data | {"inspection": {"date": day, **data.get("inspection", {})}}, against)
        for day, data in zip(DAYS, (first, second), strict=True)
    ]
    found = reinspect(*done, within=SIX_INCHES)
    return reinspection_view(found, settings=Settings())


def page(shown: ReinspectionView) -> str:
    """Return the text of a re-inspection, its lines joined."""
    text = as_text(reinspection_sheet(shown), Page(width=100, colour=False, unicode=True))
    return " ".join(text.split())


def only(shown: ReinspectionView) -> ChangeView:
    """Return the one change that is told."""
    (change,) = (c for c in shown.changes if c.section is not Section.NO_QUESTION)
    return change


def ridge(*stations: dict[str, Any]) -> dict[str, Any]:
    """Return a record of one ridge with stations."""
    line = {"kind": "ridge", "between": ["S", "N"], "from": "east end", "stations": list(stations)}
    return {"lines": {"R1": line}}


SETBACK = rulebook(rule("setback", "each station.setback", {"at_least": "2 in"}, at="station"))


def test_a_side_that_changed_is_named() -> None:
    """Of the sides of a station, the one that changed is told by its plane."""
    first, second = (
        {"at": "2 ft", "setback": {"S": size, "N": "3 in"}} for size in ("1 in", "2 1/2 in")
    )
    change = only(view(ridge(first), ridge(second), SETBACK))
    assert change.change == "S 1 1/2 in more"
    assert change.section is Section.PUT_RIGHT


def test_readings_come_and_gone_are_told() -> None:
    """Of many readings, those that only one visit took are told beside those that moved."""
    spread = rulebook(rule("even", "spread station.gap", {"at_most": "9 in"}, at="line"))
    first = ridge({"at": "2 ft", "gap": "1 in"}, {"at": "9 ft", "gap": "2 in"})
    second = ridge({"at": "2 ft", "gap": "1 in"}, {"at": "5 ft", "gap": "3 in"})
    change = only(view(first, second, spread))
    assert change.change == "1 in more"
    assert [
        (reading.place_then, reading.place_now, reading.text) for reading in change.readings
    ] == [
        ("ridge R1 at 9 ft", "", "not read now"),
        ("", "ridge R1 at 5 ft", "not read before"),
    ]


def test_many_readings_are_told_as_a_few_and_a_count() -> None:
    """The page tells so many changed readings one by one; the data has them all."""
    each = rulebook(rule("each", "each station.gap", {"at_most": "9 in"}, at="line"))
    spots = [f"{n} ft" for n in range(1, MOST_CHANGES + 4)]
    first, second = (
        ridge(*({"at": spot, "gap": gap} for spot in spots)) for gap in ("3 in", "2 1/2 in")
    )
    change = only(view(first, second, each))
    assert len(change.readings) == len(spots)
    assert change.change.startswith("at 1 ft: 1/2 in less, at 2 ft: 1/2 in less")
    assert change.change.endswith(", and 3 more")


@pytest.mark.parametrize(
    ("then", "now", "words"),
    [
        ("2026-03-02", "2026-03-14", "12 days later"),
        ("2026-03-02", "2026-03-01", "1 day earlier"),
    ],
)
def test_days_are_told_as_days(then: str, now: str, words: str) -> None:
    """A date that changed is told by how many days it moved."""
    early = rulebook(rule("early", "roof.permit_date", {"at_least": "2026-01-01"}, at="roof"))
    change = only(view({"dates": {"permit": then}}, {"dates": {"permit": now}}, early))
    assert change.change == words


def test_what_is_neither_amount_nor_day_is_told_by_itself() -> None:
    """Words that changed speak for themselves: nothing is reckoned between them."""
    sort = rulebook(rule("sort", "plane.deck", {"one_of": ["plywood", "boards"]}))
    first, second = ({"planes": {"S": {"deck": deck}}} for deck in ("plywood", "boards"))
    change = only(view(first, second, sort))
    assert (change.section, change.change) == (Section.CHANGED_READING, "")
    assert change.readings[0].exact is None


@pytest.mark.parametrize(
    ("pair", "words"),
    [
        (BookPair("b", "1", "1", same_file=True), "b: edition 1 at both visits"),
        (
            BookPair("b", "1", "2", same_file=False),
            "b: edition 1 at the first visit, 2 at the second",
        ),
        (
            BookPair("b", "1", "1", same_file=False),
            "b: edition 1 at both visits, and its file is not the same",
        ),
        (
            BookPair("b", "", "2", same_file=False),
            "b: not held against at the first visit, edition 2 at the second",
        ),
        (
            BookPair("b", "1", "", same_file=False),
            "b: edition 1 at the first visit, not held against at the second",
        ),
    ],
)
def test_editions_are_told_in_words(pair: BookPair, words: str) -> None:
    """Which edition each visit was held against is one plain phrase."""
    assert edition_words(pair) == words
    assert pair.differs is not pair.same_file


def test_the_chain_of_amendments_is_on_the_page() -> None:
    """A failure names its rule, its source and who changed the rule on its way."""
    base = rulebook(rule("gap", "station.gap", {"at_least": "3 in"}), name="base@1")
    change = amendment("gap", limit={"at_least": "4 in"}, reason="deep snow")
    child = rulebook(name="child@1", based_on=["base@1"], amendments=[change])
    station = {"at": "2 ft", "gap": "3 1/2 in"}
    said = page(view(ridge(station), ridge({**station, "gap": "3 3/4 in"}), child, base))
    assert "amended by child@1: deep snow (invented)" in said
    assert "then fail: 3 1/2 in, 1/2 in short now fail: 3 3/4 in, 1/4 in short" in said


def test_places_of_which_the_same_is_to_be_said_are_told_together() -> None:
    """Many places with one story are one entry that names them all."""
    gap = rulebook(rule("gap", "station.gap", {"at_least": "3 in"}))
    spots = [{"at": f"{n} ft", "gap": "2 in"} for n in (2, 5, 9)]
    said = page(view(ridge(*spots), ridge(*spots) | {"dates": {}}, gap))
    assert "STILL FAILING (3)" in said
    assert "major: 3 places: gap holds" in said
    assert "place ridge R1 at 2 ft, ridge R1 at 5 ft, ridge R1 at 9 ft" in said


def test_every_section_has_its_changes_and_no_change_is_without_one() -> None:
    """Nothing that fails or is open is told under what is in order."""
    asks = rulebook(rule("gap", "station.gap", {"at_least": "3 in"}))
    shown = view(
        ridge({"at": "2 ft", "gap": "2 in"}), ridge({"at": "2 ft", "gap": "unknown"}), asks
    )
    in_order = {Section.PUT_RIGHT, Section.SETTLED, Section.OTHERWISE, Section.UNCHANGED,
                Section.CHANGED_READING, Section.NEW_PASS, Section.NO_QUESTION}  # fmt: skip
    assert all(change.section not in in_order for change in shown.changes if change.is_open)
    assert sum(len(shown.of(section)) for section in Section) == len(shown.changes)

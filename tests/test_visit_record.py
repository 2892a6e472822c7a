"""The blank record of a visit: filled in, it leaves nothing open; and it says what it should."""

from __future__ import annotations

import json
import random
import re
from fractions import Fraction
from typing import TYPE_CHECKING, Any

import pytest
from msgspec.structs import replace

from outlines import BOOKS, ROOFS, data_of, lacking, outline_of, planned, thinned, tried
from ridgerule.audit.evaluate import evaluate
from ridgerule.audit.findings import Outcome
from ridgerule.audit.judge import Setting, holds
from ridgerule.documents import read_document
from ridgerule.record_reader import read_record
from ridgerule.reports.cautions import CAUTIONS
from ridgerule.reports.visit_plan_record import blank_record
from ridgerule.visit.planning import VisitSettings, plan_visit
from ridgerule.visit.sampling import Certainty
from workshop import all_listed, plan, record, rule, rulebook

if TYPE_CHECKING:
    from ridgerule.audit.plan import Plan
    from ridgerule.documents import Path as DataPath

PLANS = {books: planned(books) for books in BOOKS}
EVERY = [(roof, books) for roof in ROOFS for books in BOOKS]
NAMES = [f"{roof.split('/')[1]}-{'+'.join(books)}" for roof, books in EVERY]


def held_to(data: dict[str, Any], books: tuple[str, ...]) -> dict[str, Any]:
    """Return an outline that names rulebooks."""
    return {**data, "rulebooks": [*books]}


# the proof: nothing that a rulebook asks is left out of a plan


@pytest.mark.parametrize(("roof", "books"), EVERY, ids=NAMES)
def test_a_filled_blank_leaves_nothing_missing(roof: str, books: tuple[str, ...]) -> None:
    """Every outline by all rulebooks, filled in: no problem, and no rule lacks a reading.

    Half of the stations are drawn. A plan of the filled record asks nothing any more.
    """
    whole = data_of(roof)
    for seed in (1, 2):
        settings = VisitSettings(seed=str(seed) if seed % 2 else "")
        done = tried(
            PLANS[books], held_to(outline_of(whole), books), roof=whole, seed=seed,
            settings=settings,
        )  # fmt: skip
        assert lacking(done) == [], seed
        again = plan_visit(PLANS[books], done.record, settings)
        assert [question.path for question in again.questions] == [], seed


@pytest.mark.parametrize("part", range(6))
def test_thin_outlines_are_planned_whole_too(part: int) -> None:
    """Without kinds, directions, planes beside lines or a covering still nothing is forgotten."""
    tries = 0
    for seed in range(part * 7, part * 7 + 7):
        draw = random.Random(seed)
        roof, books = draw.choice(ROOFS), draw.choice(BOOKS)
        whole = data_of(roof)
        outline = held_to(thinned(outline_of(whole), draw), books)
        done = tried(PLANS[books], outline, roof=whole, seed=seed)
        assert lacking(done) == [], (seed, roof, books)
        tries += len(tuple(done.visit.questions)) > 0
    assert tries >= 5


@pytest.mark.parametrize("roof", ROOFS)
def test_half_filled_records_are_planned_to_their_end(roof: str) -> None:
    """A whole fixture, some answers known and some not, is planned to the last that is missing."""
    whole = data_of(roof)
    books = tuple(whole["rulebooks"])
    against = planned(books)
    done = tried(against, whole, roof=whole, seed=5)
    assert lacking(done) == []


@pytest.mark.parametrize("seed", range(8))
def test_whatever_stays_open_is_what_was_left_out(seed: int) -> None:
    """With a fifth of the answers left out, every open point is about one of them or its place."""
    draw = random.Random(seed)
    roof, books = draw.choice(ROOFS), draw.choice(BOOKS[:3])
    whole = data_of(roof)
    done = tried(
        PLANS[books], held_to(outline_of(whole), books), roof=whole, seed=seed, left_out=0.2
    )
    assert len(done.left_out) > 3
    strays = [told for told in lacking(done) if not is_of(told[2], done.left_out)]
    assert strays == []


@pytest.mark.parametrize("roof", ROOFS[:5])
def test_what_is_asked_only_if_can_be_skipped(roof: str) -> None:
    """Answers whose condition turns out not to hold are not missed by any rule."""
    whole = data_of(roof)
    books = BOOKS[2]
    done = tried(PLANS[books], held_to(outline_of(whole), books), roof=whole, seed=11)
    record_ = done.record
    places = {place.path: place for group in record_.places.values() for place in group}
    places |= {s.path: s for place in [*places.values()] for s in place.stations}
    places[record_.roof.path] = record_.roof
    skipped = 0
    for question in done.visit.questions:
        if not question.only_if:
            continue
        holding = [
            all(
                holds(Setting(record_, places[given.path]), given.condition).truth is not False
                for given in way
            )
            for way in question.ways
        ]
        if not any(holding):
            skipped += 1
            here: Any = done.data
            for step in question.place:
                here = here[step]
            del here[question.key]
    assert skipped > 2
    document = read_document(json.dumps(done.data).encode(), name="skipped.json")
    poorer = read_record(document, done.plan.vocabulary)
    assert lacking(replace(done, record=poorer, audit=evaluate(done.plan, poorer))) == []


def test_a_sample_is_planned_whole() -> None:
    """Many stations, drawn for a stated certainty, are as complete as few."""
    whole = data_of("demo/harrow-lane.yaml")
    nine = Fraction(9, 10)
    settings = VisitSettings(seed="3", certainty=Certainty(nine, nine))
    books = BOOKS[2]
    done = tried(
        PLANS[books], held_to(outline_of(whole), books), roof=whole, seed=3, settings=settings
    )
    assert lacking(done) == []
    hips = [line for line in done.data["lines"].values() if line["kind"] == "hip"]
    assert sum(len(line["stations"]) for line in hips) >= 22
    again = plan_visit(PLANS[books], done.record, settings)
    assert [question.path for question in again.questions] == []


def test_an_unknown_length_is_told_and_planned_again() -> None:
    """How many stations a line needs can't be told without its length: it is asked, then enough."""
    whole = data_of("demo/harrow-lane.yaml")
    books = BOOKS[2]
    outline = held_to(outline_of(whole), books)
    del outline["lines"]["H3"]["length"]
    done = tried(PLANS[books], outline, roof=whole, seed=4)
    (stop,) = [
        stop
        for part in done.visit.parts
        for stop in part.stops
        if stop.place.id == "H3" and stop.why
    ]
    assert stop.why[1] == "its length is not recorded: measure it, and plan again if more are due"
    assert [station.at for station in stop.stations] == ["", "", ""]
    assert {told[3] for told in lacking(done)} == {"too few stations"}  # 21 ft 5 in asks for 4
    again = tried(PLANS[books], done.data, roof=whole, seed=5)
    assert lacking(again) == []


def is_of(path: DataPath, left_out: frozenset[DataPath]) -> bool:
    """Tell whether what is missing is an answer that was left out, or lies where one is."""
    return path == ("complete",) or any(
        path[: len(left)] == left or left[: len(path)] == path for left in left_out
    )


# what the blank says


OUTLINE: dict[str, Any] = {
    "record": 1,
    "roof": {"id": "T-1", "covering": "composite slate"},
    "rulebooks": ["practice/hip-and-ridge@2026-11"],
    "planes": {"S": {"slope": "7:12", "faces": "180 deg"}, "E": {"faces": "90 deg"}},
    "lines": {"H1": {"kind": "hip", "between": ["S", "E"], "length": "12 ft"}},
}


def blank_of(data: dict[str, Any], against: Plan | None = None) -> tuple[str, dict[str, Any]]:
    """Return the text of a blank record and what it says."""
    against = against or planned(BOOKS[0])
    document = read_document(json.dumps(data).encode(), name="outline.json")
    text = blank_record(plan_visit(against, read_record(document, against.vocabulary)))
    found: Any = read_document(text.encode(), name="blank.yaml").data
    return text, found


def test_the_blank_names_its_schema_first_and_then_the_cautions() -> None:
    """An editor finds the schema on the first line, a person the cautions below it."""
    text, _ = blank_of(OUTLINE)
    lines = text.splitlines()
    assert lines[0] == "# yaml-language-server: $schema=./record.schema.json"
    top = " ".join(line.removeprefix("#").strip() for line in lines[1 : lines.index("record: 1")])
    for caution in CAUTIONS:
        assert caution in " ".join(top.split())


def test_the_blank_keeps_the_outline_and_lays_out_its_stations() -> None:
    """What the outline says stands there as before; stations have their spot and their facts."""
    text, data = blank_of(OUTLINE)
    assert data["planes"]["S"] | {"slope": "7:12", "faces": "180 deg"} == data["planes"]["S"]
    hip = data["lines"]["H1"]
    assert (hip["kind"], hip["between"], hip["length"], hip["from"]) == (
        "hip", ["S", "E"], "12 ft", "eave",
    )  # fmt: skip
    assert [station["at"] for station in hip["stations"]] == ["2 ft", "6 ft", "10 ft"]
    assert [station["only"] for station in hip["stations"]] == [
        ["gap"],
        ["cap_exposure", "fasteners", "gap", "overdriven", "penetration", "through_deck"],
        ["gap"],
    ]
    assert hip["stations"][0] == {"at": "2 ft", "only": ["gap"], "gap": None}
    assert hip["membrane"] == {"value": None, "how": None, "photo": None}
    assert hip["cut_straight"] is None
    assert data["complete"]["hips"] is None
    assert data["rulebooks"] == ["practice/hip-and-ridge@2026-11"]
    assert data["instruments"]["tape"] == {"graduation": None, "expanded_uncertainty": None}
    assert {"date", "inspector", "weather", "access"} <= data["inspection"].keys()
    assert "{" not in re.sub("#.*", "", text)  # block style: a comma ends no note


def test_comments_stand_on_lines_of_their_own() -> None:
    """A value can be typed after any colon: no comment shares a line with a key."""
    text, _ = blank_of(OUTLINE)
    assert [line for line in text.splitlines() if "#" in line and line.lstrip()[0] != "#"] == []
    filled = re.sub(r"^(\s+)(gap|cut_straight|hips):$", r"\1\2: unknown", text, flags=re.MULTILINE)
    assert filled.count(": unknown") == 5
    assert read_document(filled.encode(), name="filled.yaml").data is not None


def test_a_question_is_told_in_full_once() -> None:
    """The first plane's key has definition, limit and rule over it; the next has the limit."""
    text, _ = blank_of(OUTLINE)
    assert text.count("# kind of fastener in the field\n") == 1
    full = "# must be ring-shank nail or screw (practice/hip-and-ridge#fastener-kind)"
    assert text.count(full) == 1
    assert text.count("Nails or screws?") == 2
    brief = "# Nails or screws? (ring-shank nail, smooth-shank nail, screw or staple) must be ring"
    assert text.count(brief) == 1


def test_weak_and_unknown_readings_are_asked_again_and_kept() -> None:
    """A word about the membrane stays with why it is not enough; an unknown gets room for how."""
    hip = {
        **OUTLINE["lines"]["H1"],
        "membrane": {"value": "yes", "how": "stated", "by": "the foreman"},
        "membrane_width": "unknown",
        "membrane_standard": {"value": "D1970", "how": "document"},
        "cut_straight": "can't reach",
    }
    text, data = blank_of({**OUTLINE, "lines": {"H1": hip}})
    found = data["lines"]["H1"]
    assert found["membrane"] == hip["membrane"]
    assert found["membrane_width"] == {"value": "unknown", "how": None, "photo": None}
    assert found["membrane_standard"] == hip["membrane_standard"]
    assert found["cut_straight"] == "can't reach"
    assert "# so far: yes (stated); known only as stated; hidden; lift a cap" in text
    assert "Which standard is printed on the membrane?" not in text


def test_sides_are_asked_one_by_one() -> None:
    """A setback is asked on each side that is missing, the other side kept."""
    ridge = {
        "kind": "ridge", "between": ["S", "E"], "length": "12 ft", "vented": "yes",
        "stations": [{"at": "1 ft", "setback": {"S": "2 in", "E": None}}],
    }  # fmt: skip
    _, data = blank_of({**OUTLINE, "lines": {"R1": ridge}})
    first, *others = data["lines"]["R1"]["stations"]
    assert first["setback"] == {"S": "2 in", "E": None}
    assert [station["setback"] for station in others] == [{"S": None, "E": None}] * 2
    assert "only" not in first
    assert data["lines"]["R1"]["from"] == "left end, seen from below plane S"


def test_a_photo_that_a_rule_asks_for_has_its_key() -> None:
    """Where a photo is needed the answer has room for it, however it is known."""
    book = rulebook(rule("p", "opening.flashed", "present", evidence={"photo": True}))
    against = plan(book)
    data = {"openings": {"C1": {}}, "complete": all_listed()}
    visit = plan_visit(against, record(data, against))
    found: Any = read_document(blank_record(visit).encode(), name="blank.yaml").data
    assert found["openings"]["C1"]["flashed"] == {"value": None, "how": None, "photo": None}


HOSTILE = "a: b # c \"q\" 'q' {x} [y] & * ! | > % @ `t` \\ é 😀 - x, z"


@pytest.mark.parametrize(
    "words",
    [HOSTILE, "yes", "no", "true", "null", "12", "0x1F", "1e3", "~", "- a", "? b", "#x", " x ",
     "line\nnext", "7:12", "2026-03-02", "{a: b}", "[a]", "%x", "!tag", "&a", "*a", "@a", "`a`",
     "", "'", '"', "a\tb", ": a", "a:", "<<", "é\u202e"],
)  # fmt: skip
def test_whatever_an_outline_says_reads_back_the_same(words: str) -> None:
    """Names, notes and lists of any words stand in the blank as they were, and are text still."""
    data = {
        **OUTLINE,
        "roof": {**OUTLINE["roof"], "name": words, "note": words},
        "planes": {**OUTLINE["planes"], "S": {**OUTLINE["planes"]["S"], "note": words}},
        "inspection": {"inspector": words},
    }
    _, found = blank_of(data)
    assert found["roof"]["name"] == words
    assert found["planes"]["S"]["note"] == words
    assert found["inspection"]["inspector"] == words


def test_ids_that_look_like_other_things_stay_ids() -> None:
    """A plane called `null`, one called `12` and one called `yes no` keep their names."""
    planes = {"null": {"faces": "180 deg"}, "12": {"faces": "90 deg"}, "yes no": {}}
    lines = {"true": {"kind": "hip", "between": ["null", "12"], "length": "6 ft"}}
    _, found = blank_of({**OUTLINE, "planes": planes, "lines": lines})
    assert [*found["planes"]] == ["null", "12", "yes no"]
    assert found["lines"]["true"]["between"] == ["null", "12"]


def test_a_rulebooks_words_can_not_break_out_of_a_comment() -> None:
    """A question of several lines, or with what ends a comment, stays in it."""
    wicked = "How wide?\nlines: {X: {}}\n\u00a0rulebooks: [] \u202e"
    facts = {"plane.width": {"dimension": "length", "measure": wicked, "ask": wicked}}
    book = rulebook(rule("w", "plane.width", {"at_least": "1 in"}, title=wicked), facts=facts)
    against = plan(book)
    data = {"planes": {"S": {}}, "complete": all_listed()}
    text = blank_record(plan_visit(against, record(data, against)))
    found: Any = read_document(text.encode(), name="blank.yaml").data
    assert "lines" not in found
    assert found["planes"] == {"S": {"width": None}}


def test_rulebooks_of_ones_own_stay_where_the_outline_speaks_of_them() -> None:
    """Planned by other rulebooks, a record with facts of its own keeps naming their rulebooks."""
    whole = data_of("demo/harrow-lane.yaml")
    own, other = planned(tuple(whole["rulebooks"])), planned(BOOKS[0])
    document = read_document(json.dumps(whole).encode(), name="demo.json")
    visit = plan_visit(other, read_record(document, own.vocabulary))
    found: Any = read_document(blank_record(visit).encode(), name="blank.yaml").data
    assert found["rulebooks"] == [*BOOKS[0], *whole["rulebooks"]]
    assert read_record(read_document(blank_record(visit).encode(), name="b.yaml"), own.vocabulary)


def test_a_whole_fixture_stays_whole() -> None:
    """Nothing a fixture says is lost in its blank, and nothing it settles is asked."""
    whole = data_of("clean/mill-bank.yaml")
    against = planned(tuple(whole["rulebooks"]))
    document = read_document(json.dumps(whole).encode(), name="clean.json")
    visit = plan_visit(against, read_record(document, against.vocabulary))
    assert [question.path for question in visit.questions] == []
    found: Any = read_document(blank_record(visit).encode(), name="blank.yaml").data
    found["inspection"] = {k: v for k, v in found["inspection"].items() if v is not None}
    assert found == whole


def test_outcome_of_a_blank_is_not_verified() -> None:
    """A blank that nobody filled in passes nothing."""
    text, _ = blank_of(OUTLINE)
    against = planned(BOOKS[0])
    blank = read_document(text.encode(), name="blank.yaml")
    audit = evaluate(against, read_record(blank, against.vocabulary))
    assert audit.outcome is Outcome.NOT_VERIFIED
    assert audit.counts[Outcome.PASS] == 0

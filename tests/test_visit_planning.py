"""The plan of a visit: what is asked and what is not, where, how often, and in which order.

Orders, positions and counts are worked out by hand; sample sizes are held against scipy and the
published success-run table.
"""

from __future__ import annotations

import json
import math
import random
from fractions import Fraction
from typing import TYPE_CHECKING, Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from outlines import BOOKS, data_of, outline_of, planned
from ridgerule.documents import read_document
from ridgerule.facts import How
from ridgerule.record_reader import read_record
from ridgerule.reports.visit_plan_record import blank_record
from ridgerule.reports.visit_plan_words import demanded_words, must_be
from ridgerule.trade.draws import drawn
from ridgerule.units import NM_PER_FOOT, NM_PER_INCH, NM_PER_MM, Units
from ridgerule.visit.bringing import needs_lifting
from ridgerule.visit.planning import VisitSettings, plan_visit
from ridgerule.visit.sampling import Certainty, pieces_of, samples
from ridgerule.visit.spots import drawn_along, drawn_over, spread_along, spread_over
from ridgerule.visit.walking import Part
from workshop import all_listed, amendment, plan, record, rule, rulebook

if TYPE_CHECKING:
    from ridgerule.audit.plan import Plan
    from ridgerule.visit.planning import VisitPlan
    from ridgerule.visit.questions import Question
    from ridgerule.visit.stops import Stop

HIP = {"kind": "hip", "between": ["S", "E"], "length": "12 ft"}
RIDGE = {"kind": "ridge", "between": ["S", "N"], "length": "12 ft"}
PLANES = {"S": {"faces": "180 deg"}, "E": {"faces": "90 deg"}, "N": {"faces": "0 deg"}}
YES_NO = {"dimension": "yes or no", "measure": "invented", "ask": "Is it so?"}


def visit(
    book: str | Plan,
    *more: str,
    settings: VisitSettings | None = None,
    asked: tuple[str, ...] = (),
    **data: Any,
) -> VisitPlan:
    """Return the plan of a visit to a roof that lists everything it has, unless said otherwise."""
    against = plan(book, *more, asked=asked) if isinstance(book, str) else book
    whole = {"complete": all_listed(), **data}
    return plan_visit(against, record(whole, against), settings)


def paths(found: VisitPlan) -> set[tuple[str | int, ...]]:
    """Return the paths of the answers that a plan asks for."""
    return {question.path for question in found.questions}


def asked(found: VisitPlan, *path: str | int) -> Question:
    """Return the one question for the answer at a path."""
    here = [question for question in found.questions if question.path == path]
    assert len(here) == 1, (path, sorted(map(str, paths(found))))
    return here[0]


def stops(found: VisitPlan, part: Part) -> list[Stop]:
    """Return the stops of one part of a visit."""
    return [stop for each in found.parts if each.part is part for stop in each.stops]


def spots(found: VisitPlan, id_: str, part: Part = Part.ROOF) -> dict[str, list[str]]:
    """Return where the stations of a line or plane are, with the facts read at each."""
    (stop,) = [stop for stop in stops(found, part) if stop.place.id == id_]
    return {station.at: sorted(q.key for q in station.questions) for station in stop.stations}


def outline_plan(
    roof: str, books: tuple[str, ...], settings: VisitSettings | None = None
) -> VisitPlan:
    """Return the plan of a visit to a fixture of which only the outline is known."""
    against = planned(books)
    document = read_document(json.dumps(outline_of(data_of(roof))).encode(), name="outline.json")
    return plan_visit(against, read_record(document, against.vocabulary), settings)


# what is asked


def test_a_rules_fact_is_asked_at_every_place_it_applies_to() -> None:
    """A rule on hips asks at each hip and at no eave."""
    book = rulebook(rule("m", "line.membrane", "present", when={"line.kind": "hip"}))
    eave = {"kind": "eave", "between": ["S"]}
    found = visit(book, planes=PLANES, lines={"H1": HIP, "H2": HIP, "E1": eave})
    assert paths(found) == {("lines", "H1", "membrane"), ("lines", "H2", "membrane")}
    question = asked(found, "lines", "H1", "membrane")
    assert question.ask == "Is there a membrane strip under it?"
    assert must_be(question) == "must be yes"
    assert demanded_words(question) == "must be yes (test/house#m)"
    assert question.demanded[0].books == ("test/house@1",)


def test_an_unknown_condition_is_asked_first_and_the_rest_only_if_it_holds() -> None:
    """Whether a ridge is vented decides between gap and setback; known, one of them is left out."""
    book = rulebook(
        rule("g", "station.gap", {"at_least": "3 in"},
             when={"line.kind": "ridge", "line.vented": False}),
        rule("s", "each station.setback", {"at_least": "2 in"}, at="station",
             when={"line.kind": "ridge", "line.vented": True}),
    )  # fmt: skip
    found = visit(book, planes=PLANES, lines={"R1": RIDGE})
    assert asked(found, "lines", "R1", "vented").only_if == ""
    assert asked(found, "lines", "R1", "stations", 0, "gap").only_if == "line vented is no"
    setback = asked(found, "lines", "R1", "stations", 0, "setback")
    assert (setback.only_if, setback.sides) == ("line vented is yes", ("S", "N"))
    first = next(found.questions)
    assert first.key == "vented"
    known = visit(book, planes=PLANES, lines={"R1": {**RIDGE, "vented": "no"}})
    assert paths(known) == {("lines", "R1", "stations", 0, "gap")}
    assert asked(known, "lines", "R1", "stations", 0, "gap").only_if == ""


def test_either_way_is_no_condition() -> None:
    """A fact that one rule asks where a ridge is vented and one where it isn't is simply asked."""
    book = rulebook(
        rule("a", "line.flashed", "present", when={"line.vented": True}),
        rule("b", "line.flashed", "present", when={"line.vented": False, "line.kind": "ridge"}),
        rule("c", "line.colour_matched", "present",
             when={"line.vented": True, "line.membrane": True}),
        rule("d", "line.colour_matched", "present", when={"line.vented": True}),
    )  # fmt: skip
    found = visit(book, planes=PLANES, lines={"R1": RIDGE})
    assert asked(found, "lines", "R1", "flashed").only_if == ""
    assert asked(found, "lines", "R1", "colour_matched").only_if == "vented is yes"


def test_what_nobody_can_answer_by_itself_is_no_condition() -> None:
    """A computed corner, or a number of readings, decides nothing on a form: it is asked anyway."""
    book = rulebook(
        rule("a", "line.flashed", "present",
             when={"any_of": [{"line.vented": True}, {"line.plan_corner": "90 deg"}]}),
        rule("b", "line.membrane", "present",
             when={"line.vented": True, "count station.gap": {"at_least": 2}}),
        rule("c", "line.cut_straight", "present",
             when={"line.vented": True, "not": {"line.plan_corner": "90 deg"}}),
    )  # fmt: skip
    planes = {"S": {"faces": "180 deg"}, "E": {}}
    found = visit(book, planes=planes, lines={"H1": HIP})
    assert asked(found, "lines", "H1", "flashed").only_if == ""
    assert asked(found, "lines", "H1", "membrane").only_if == "vented is yes"
    assert asked(found, "lines", "H1", "cut_straight").only_if == "vented is yes"
    assert ("planes", "E", "faces") in paths(found)


def test_what_is_out_of_scope_is_not_asked_and_an_unknown_scope_is() -> None:
    """A rule for slates asks nothing of shingles; with the covering unknown that is asked first."""
    book = rulebook(
        rule("f", "plane.fasteners_hidden", "present"),
        scope={"covering": {"one_of": ["natural slate", "composite slate"]}},
    )
    shingles = {"id": "T", "covering": "asphalt shingle"}
    assert paths(visit(book, planes={"S": {}}, roof=shingles)) == set()
    found = visit(book, planes={"S": {}})
    assert asked(found, "roof", "covering").only_if == ""
    hidden = asked(found, "planes", "S", "fasteners_hidden")
    assert hidden.only_if == "roof covering is natural slate or composite slate"


def test_two_rulebooks_with_one_rule_in_two_scopes_both_count() -> None:
    """A base asked for beside a narrower child is asked where the child is out of scope."""
    base = rulebook(rule("f", "plane.fasteners_hidden", "present"), name="test/base@1")
    child = rulebook(
        name="test/child@1", based_on=["test/base@1"],
        scope={"covering": {"one_of": ["composite slate"]}},
    )  # fmt: skip
    slates = {"id": "T", "covering": "natural slate"}
    found = visit(child, base, asked=("test/child@1", "test/base@1"), planes={"S": {}}, roof=slates)
    assert asked(found, "planes", "S", "fasteners_hidden").demanded[0].books == ("test/base@1",)


def test_a_line_of_unknown_kind_is_asked_for_it() -> None:
    """What is asked of hips alone hangs on the kind; every word for it is told once."""
    book = rulebook(
        rule("m", "line.membrane", "present", when={"line.kind": {"one_of": ["hip", "ridge"]}}),
        rule("v", "line.vent_instructions", "present",
             when={"any_of": [{"line.kind": "hip"}, {"line.kind": "ridge", "line.vented": True}]}),
    )  # fmt: skip
    found = visit(book, lines={"X": {"between": ["S", "E"]}}, planes=PLANES)
    assert asked(found, "lines", "X", "kind").only_if == ""
    assert asked(found, "lines", "X", "membrane").only_if == "kind is hip or ridge"
    assert asked(found, "lines", "X", "vented").only_if == "kind is ridge"
    either = asked(found, "lines", "X", "vent_instructions").only_if
    assert either == "kind is hip or (kind is ridge and vented is yes)"


def test_an_easy_answer_comes_before_the_reading_it_spares() -> None:
    """Where a point through the deck is enough, depth is only asked if it doesn't show."""
    book = rulebook(
        rule("p", "station.penetration", {"any_of": [
            {"at_least": "3/4 in"}, {"where": {"station.through_deck": True}}]}, on="plane"),
    )  # fmt: skip
    found = visit(book, planes={"S": {}})
    assert asked(found, "planes", "S", "stations", 0, "through_deck").only_if == ""
    depth = asked(found, "planes", "S", "stations", 0, "penetration")
    assert depth.only_if == "through deck is no"
    assert stops(found, Part.BELOW)[0].stations[0].questions[0].key == "through_deck"


def test_stations_that_a_rule_counts_need_its_own_fact() -> None:
    """To count as read a station needs the depth, though the deck's underside would decide."""
    book = rulebook(
        rule("p", "station.penetration", {"any_of": [
            {"at_least": "3/4 in"}, {"where": {"station.through_deck": True}}]},
            on="plane", stations={"at_least": 2}),
    )  # fmt: skip
    found = visit(book, planes={"S": {}})
    for n in (0, 1):
        assert asked(found, "planes", "S", "stations", n, "penetration").only_if == ""


def test_computed_facts_are_asked_by_the_readings_behind_them() -> None:
    """A gap on the hottest day asks for gap, fasteners, temperature and the slates' figures."""
    book = rulebook(
        rule("h", "station.gap_hottest", {"not": {"at_most": "0 in"}}, when={"line.kind": "hip"})
    )
    found = visit(book, planes=PLANES, lines={"H1": HIP})
    assert {question.key for question in found.questions} == {
        "gap", "fastener_to_edge", "surface_temperature", "expansion_least", "expansion_greatest",
        "hottest_surface",
    }  # fmt: skip
    edge = asked(found, "lines", "H1", "stations", 0, "fastener_to_edge")
    assert edge.sides == ("S", "E")
    assert must_be(edge) == ""
    assert demanded_words(edge) == "gap hottest must be over 0 in (test/house#h)"


def test_a_tables_rows_ask_for_no_more_than_they_need() -> None:
    """The value of a row is asked only if the row is picked, and not at all if another is."""
    book = rulebook(
        rule("t", "plane.wide_enough", "present"),
        facts={"plane.width": {"dimension": "yes or no", "measure": "invented"}},
        derive={"plane.wide_enough": {
            "dimension": "yes or no", "measure": "invented",
            "table": {"by": "roof.climate_zone", "rows": [
                {"for": {"one_of": [1, 2, 3, 4]}, "value": True},
                {"for": {"one_of": [5, 6, 7, 8]}, "value": "plane.width"}]}}},
    )  # fmt: skip
    found = visit(book, planes={"S": {}})
    assert asked(found, "roof", "climate_zone").only_if == ""
    assert asked(found, "planes", "S", "width").only_if == "roof climate zone is 5, 6, 7 or 8"
    assert paths(visit(book, planes={"S": {}}, roof={"id": "T", "climate_zone": 2})) == set()
    cold = visit(book, planes={"S": {}}, roof={"id": "T", "climate_zone": 7})
    assert asked(cold, "planes", "S", "width").only_if == ""


def test_a_limit_that_names_another_fact_asks_for_both() -> None:
    """Caps as the field's exposure ask the exposure of both planes beside the line."""
    book = rulebook(
        rule("e", "line.cap_exposure", {"same_as": "least plane.exposure", "within": "1/4 in"})
    )
    found = visit(book, planes=PLANES, lines={"H1": HIP})
    assert paths(found) == {
        ("lines", "H1", "cap_exposure"), ("planes", "S", "exposure"), ("planes", "E", "exposure"),
    }  # fmt: skip
    other = asked(found, "planes", "S", "exposure")
    assert demanded_words(other) == "is needed for test/house#e"


def test_known_readings_are_left_out_and_weak_ones_told() -> None:
    """A lifted cap settles it; a word, or a reading with no photo, is asked again with why."""
    book = rulebook(
        rule(
            "m", "line.membrane", "present", evidence={"how": ["cap lifted", "photo during work"]}
        ),
        rule("f", "line.flashed", "present", evidence={"photo": True}),
    )
    lifted = {"value": True, "how": "cap lifted"}
    stated = {"value": True, "how": "stated", "by": "the foreman"}
    lines = {
        "H1": {**HIP, "membrane": lifted, "flashed": {"value": True, "photo": "a.jpg"}},
        "H2": {**HIP, "membrane": stated, "flashed": True},
        "H3": {**HIP, "membrane": "unknown", "flashed": "can't reach"},
    }
    found = visit(book, planes=PLANES, lines=lines)
    assert paths(found) == {
        ("lines", id_, key) for id_ in ("H2", "H3") for key in ("membrane", "flashed")
    }
    weak = asked(found, "lines", "H2", "membrane")
    assert weak.accepted == (How.CAP_LIFTED, How.PHOTO_DURING_WORK)
    assert weak.known.startswith("yes (stated); known only as stated; hidden; lift a cap")
    assert needs_lifting(weak)
    bare = asked(found, "lines", "H2", "flashed")
    assert (bare.photo, bare.known) == (True, "yes (seen); a photo is missing")
    assert asked(found, "lines", "H3", "flashed").known == "can't reach"


def test_several_rules_on_one_answer_are_one_question_led_by_what_governs() -> None:
    """Of two widths the greater leads; how it must be known is what both accept."""
    one = rulebook(
        rule("a", "line.membrane_width", {"at_least": "8 in"}, aim={"at_least": "9 in"},
             evidence={"how": ["cap lifted", "photo during work", "document"]}),
        name="test/one@1",
    )  # fmt: skip
    two = rulebook(
        rule("b", "line.membrane_width", {"at_least": "12 in"},
             evidence={"how": ["cap lifted", "measured"]}),
        name="test/two@1",
    )  # fmt: skip
    found = visit(one, two, asked=("test/one@1", "test/two@1"), planes=PLANES, lines={"H1": HIP})
    question = asked(found, "lines", "H1", "membrane_width")
    assert must_be(question) == "must be at least 12 in"
    assert demanded_words(question) == (
        "must be at least 12 in (test/two#b); must be at least 8 in, aim at least 9 in (test/one#a)"
    )
    assert question.accepted == (How.CAP_LIFTED,)
    assert not question.is_in_conflict


def test_limits_that_no_answer_meets_together_are_told() -> None:
    """A width of at least 12 in and one of at most 9 in can't both be met, whatever is found."""
    book = rulebook(
        rule("a", "line.membrane_width", {"at_least": "12 in"}),
        rule("b", "line.membrane_width", {"at_most": "9 in"}),
    )
    found = visit(book, planes=PLANES, lines={"H1": HIP})
    question = asked(found, "lines", "H1", "membrane_width")
    assert question.is_in_conflict
    assert "ask the authorities which of them governs" in must_be(question)


def test_an_amended_limit_names_who_has_it_so() -> None:
    """The rule is its base's, the figure the county's."""
    base = rulebook(rule("w", "line.membrane_width", {"at_least": "8 in"}), name="test/base@1")
    child = rulebook(
        name="test/county@1", based_on=["test/base@1"],
        amendments=[amendment("w", limit={"at_least": "9 in"})],
    )  # fmt: skip
    found = visit(child, base, asked=("test/county@1",), planes=PLANES, lines={"H1": HIP})
    question = asked(found, "lines", "H1", "membrane_width")
    assert demanded_words(question) == (
        "must be at least 9 in (test/base#w, as test/county@1 has it)"
    )


def test_a_missing_date_is_asked_and_every_edition_it_may_pick_is_planned() -> None:
    """With no permit date both editions may be in force; with one, only its own is asked."""
    early = rulebook(
        rule("a", "plane.exposure", {"at_most": "8 in"}), name="test/code@1",
        in_force={"to": "2025-12-31"}, in_force_by="permit",
    )  # fmt: skip
    late = rulebook(
        rule("b", "plane.slope", {"at_least": "3:12"}), name="test/code@2",
        in_force={"from": "2026-01-01"}, in_force_by="permit",
    )  # fmt: skip
    found = visit(early, late, asked=("test/code",), planes={"S": {}})
    assert paths(found) == {
        ("dates", "permit"), ("planes", "S", "exposure"), ("planes", "S", "slope"),
    }  # fmt: skip
    assert demanded_words(asked(found, "dates", "permit")) == (
        "picks the edition in force of test/code"
    )
    dated = visit(
        early, late, asked=("test/code",), planes={"S": {}}, dates={"permit": "2026-03-01"}
    )
    assert paths(dated) == {("planes", "S", "slope")}


def test_an_edition_that_no_date_picks_is_a_thing_to_mind() -> None:
    """Two editions without a period are both planned, and the plan says that one must be named."""
    books = [rulebook(rule("a", "plane.slope", {"at_least": "3:12"}), name=f"test/code@{n}")
             for n in (1, 2)]  # fmt: skip
    found = visit(*books, asked=("test/code",), planes={"S": {}})
    assert any("name one as id@edition" in words for words in found.mind)


def test_a_warrantys_own_conditions_are_asked() -> None:
    """Dates that a coverage asks for are in the plan, though no rule judges them."""
    book = rulebook(
        rule("a", "plane.slope", {"at_least": "3:12"}),
        coverages=[{"id": "c", "title": "Slates", "evidence": "a paper", "conditions": {"all_of": [
            "a", {"title": "registered in time", "where": {"roof.registration_date": {
                "at_least": "roof.installation_date"}}}]}}],
    )  # fmt: skip
    found = visit(book, planes={"S": {}})
    assert paths(found) == {
        ("planes", "S", "slope"), ("dates", "registration"), ("dates", "installation"),
    }  # fmt: skip
    told = demanded_words(asked(found, "dates", "registration"))
    assert told == "is a condition of the warranty of test/house: registered in time"


def test_lists_that_may_not_be_whole_are_asked_about() -> None:
    """Each kind of place that a rule is asked at is asked for, and no other."""
    book = rulebook(
        rule("m", "line.membrane", "present", when={"line.kind": "hip"}),
        rule("o", "opening.flashed", "present"),
    )
    found = visit(book, planes=PLANES, lines={"H1": HIP}, complete={"planes": "all"})
    assert {path for path in paths(found) if path[0] == "complete"} == {
        ("complete", "hips"), ("complete", "openings"),
    }  # fmt: skip
    assert any("The outline lists no openings." in words for words in found.mind)


def test_neighbours_without_a_line_between_them_are_minded() -> None:
    """Planes that face neighbouring ways need a line between them, or a word that they don't."""
    book = rulebook(rule("m", "line.membrane", "present", when={"line.kind": "hip"}))
    found = visit(book, planes=PLANES, lines={"H1": HIP})
    assert any(words.startswith("No line is recorded between plane ") for words in found.mind)
    blind = visit(book, planes={"S": {}, "E": {}}, lines={"H1": {**HIP, "between": None}})
    assert {("planes", "S", "faces"), ("planes", "E", "faces"), ("lines", "H1", "between")} <= (
        paths(blind)
    )


def test_nothing_open_is_nothing_asked() -> None:
    """A record that answers everything has an empty plan, with nothing to bring."""
    book = rulebook(rule("s", "plane.slope", {"at_least": "3:12"}))
    found = visit(book, planes={"S": {"slope": "7:12"}})
    assert (found.parts, found.bring, found.tools) == ((), (), ())


# stations


def test_stations_by_number_and_by_spacing() -> None:
    """234 1/4 in at one per 6 ft take four: at 1/8, 3/8, 5/8 and 7/8, in whole inches."""
    book = rulebook(
        rule("g", "station.gap", {"at_least": "3 in"}, when={"line.kind": "hip"},
             stations={"at_least": 3, "one_per": "6 ft"}),
    )  # fmt: skip
    hip = {**HIP, "length": "19 ft 6 1/4 in"}
    found = visit(book, planes=PLANES, lines={"H1": hip, "H2": {**HIP, "length": "8 ft"}})
    # 29.28, 87.84, 146.41 and 204.97 in; 16, 48 and 80 in
    assert [*spots(found, "H1")] == ["2 ft 5 in", "7 ft 4 in", "12 ft 2 in", "17 ft 1 in"]
    assert [*spots(found, "H2")] == ["16 in", "4 ft", "6 ft 8 in"]
    assert stops(found, Part.ROOF)[1].why == ("test/house#g: at least 3, one for each 6 ft",)
    assert found.ends == {("lines", "H1"): "eave", ("lines", "H2"): "eave"}


def test_metric_records_get_whole_centimetres() -> None:
    """4.66 m with three stations: 0.777, 2.33 and 3.883 m."""
    book = rulebook(rule("g", "station.gap", {"at_least": "76 mm"}, when={"line.kind": "hip"},
                         stations={"at_least": 3}))  # fmt: skip
    found = visit(book, planes=PLANES, lines={"H1": {**HIP, "length": "4.66 m"}})
    assert [*spots(found, "H1")] == ["780 mm", "2.33 m", "3.88 m"]
    inches = visit(
        book, planes=PLANES, lines={"H1": {**HIP, "length": "4.66 m"}},
        settings=VisitSettings(units=Units.INCH),
    )  # fmt: skip
    assert [*spots(inches, "H1")] == ["2 ft 7 in", "7 ft 8 in", "12 ft 9 in"]


def test_a_rule_of_few_stations_shares_those_of_one_of_many() -> None:
    """Five gaps and one count of fasteners make five stations; a spread needs two readings."""
    book = rulebook(
        rule("g", "station.gap", {"at_least": "3 in"}, when={"line.kind": "hip"},
             stations={"at_least": 5}),
        rule("f", "station.fasteners", {"equal_to": 2}, when={"line.kind": "hip"}),
        rule("s", "spread station.cap_exposure", {"at_most": "1/4 in"}, at="line",
             when={"line.kind": "hip"}),
    )  # fmt: skip
    found = visit(book, planes=PLANES, lines={"H1": {**HIP, "length": "10 ft"}})
    assert spots(found, "H1") == {
        "12 in": ["gap"], "3 ft": ["cap_exposure", "gap"], "5 ft": ["fasteners", "gap"],
        "7 ft": ["cap_exposure", "gap"], "9 ft": ["gap"],
    }  # fmt: skip


def test_readings_that_are_counted_are_planned_in_number() -> None:
    """A rule on how many readings there are gets as many stations."""
    book = rulebook(
        rule("c", "count station.gap", {"at_least": 4}, at="line", when={"line.kind": "hip"})
    )
    assert len(spots(visit(book, planes=PLANES, lines={"H1": HIP}), "H1")) == 4


def test_a_roofs_rule_on_each_station_asks_every_line_and_plane() -> None:
    """`each station.overdriven` at the roof needs a station wherever one can be."""
    book = rulebook(rule("o", "each station.overdriven", "absent", at="roof"))
    found = visit(book, planes={"S": {}}, lines={"E1": {"kind": "eave", "length": "6 ft"}})
    assert paths(found) == {
        ("planes", "S", "stations", 0, "overdriven"), ("lines", "E1", "stations", 0, "overdriven"),
    }  # fmt: skip


def test_stations_there_are_count_unless_made_for_other_facts() -> None:
    """Of three due two are there, one of them for another fact; two more go where none is near."""
    book = rulebook(rule("g", "station.gap", {"at_least": "3 in"}, when={"line.kind": "hip"},
                         stations={"at_least": 3}))  # fmt: skip
    hip = {
        **HIP,
        "length": "10 ft",
        "stations": [
            {"at": "2 ft", "gap": "3 in"},
            {"at": "5 ft", "only": ["fasteners"], "fasteners": 2},
        ],
    }
    found = visit(book, planes=PLANES, lines={"H1": hip})
    # Furthest from any is the upper end, 60 in off; then the lower one, 24 in off.
    assert spots(found, "H1") == {"8 in": ["gap"], "8 ft 4 in": ["gap"]}
    assert asked(found, "lines", "H1", "stations", 2, "gap").only_if == ""


def test_a_station_without_a_spot_is_asked_for_it() -> None:
    """It counts among those due, and where it is is a question."""
    book = rulebook(rule("g", "station.gap", {"at_least": "3 in"}, when={"line.kind": "hip"},
                         stations={"at_least": 2}))  # fmt: skip
    hip = {**HIP, "stations": [{"at": None}, {"at": "2 ft"}]}
    found = visit(book, planes=PLANES, lines={"H1": hip})
    assert asked(found, "lines", "H1", "stations", 0, "at").ask == "Where is it?"
    assert len(paths(found)) == 3


@pytest.mark.parametrize("settings", [None, VisitSettings(seed="7")], ids=["spread", "drawn"])
def test_planning_the_blank_again_adds_nothing(settings: VisitSettings | None) -> None:
    """The plan of a blank record is the plan that it was made from."""
    against = planned(BOOKS[2])
    first = outline_plan("demo/harrow-lane.yaml", BOOKS[2], settings)
    blank = read_document(blank_record(first).encode(), name="blank.yaml")
    again = plan_visit(against, read_record(blank, against.vocabulary), settings)
    assert [question.path for question in again.questions] == [q.path for q in first.questions]
    assert blank_record(again) == blank_record(first)


@given(
    inches=st.integers(8, 5000),
    count=st.integers(1, 7),
    taken=st.lists(st.integers(1, 5000), max_size=4, unique=True),
    units=st.sampled_from(Units),
)
def test_spread_stations_keep_off_ends_and_each_other(
    inches: int, count: int, taken: list[int], units: Units
) -> None:
    """Positions are distinct, inside the line, on the tape's marks, and as many as asked."""
    there = [at * NM_PER_INCH for at in taken if at < inches]
    length = inches * NM_PER_INCH
    found = spread_along(count, length=length, taken=there, units=units)
    assert len(set(found) | set(there)) == count + len(there)
    assert all(0 < at < length for at in found)
    mark = NM_PER_INCH if units is Units.INCH else 10 * NM_PER_MM
    if inches >= 4 * (count + len(there)):
        assert all(Fraction(at) % mark == 0 for at in found)
    assert [*found] == sorted(found)


@pytest.mark.parametrize("count", [1, 2, 3, 5, 8])
def test_spread_stations_are_as_far_apart_as_can_be(count: int) -> None:
    """Nowhere on a line is a station further off than half a part, give or take the rounding."""
    length = 240 * NM_PER_INCH
    found = spread_along(count, length=length, units=Units.INCH)
    part = Fraction(length, count)
    for i, at in enumerate(found):
        assert abs(Fraction(at) - part * (2 * i + 1) / 2) <= NM_PER_INCH / 2


def test_a_short_line_is_marked_more_finely_and_never_overfilled() -> None:
    """Three stations on 2 in are set to a half inch; a line of nothing has none."""
    assert spread_along(3, length=2 * NM_PER_INCH, units=Units.INCH) == tuple(
        NM_PER_INCH * n // 2 for n in (1, 2, 3)
    )
    assert spread_along(3, length=0, units=Units.INCH) == ()
    assert drawn_along(3, length=0, units=Units.INCH, seed="1") == ()
    assert len(spread_along(99, length=NM_PER_INCH, units=Units.INCH)) == 15


def test_drawn_stations_can_be_drawn_again() -> None:
    """They are the numbers of the stated stream: the seed, a space, and the line's path."""
    book = rulebook(rule("g", "station.gap", {"at_least": "3 in"}, when={"line.kind": "hip"},
                         stations={"at_least": 4}))  # fmt: skip
    lines = {"H1": {**HIP, "length": "10 ft"}, "H2": {**HIP, "length": "10 ft"}}
    found = visit(book, planes=PLANES, lines=lines, settings=VisitSettings(seed="7"))
    for id_ in lines:
        stations = found.record.by_id[next(k for k in found.record.by_id if k[1] == id_)].stations
        inches = [Fraction(s.at.amount) / NM_PER_INCH for s in stations if s.at]
        assert tuple(inches) == drawn(4, of=119, seed=f"7 lines/{id_}")
    assert spots(found, "H1") != spots(found, "H2")
    again = visit(book, planes=PLANES, lines=lines, settings=VisitSettings(seed="7"))
    other = visit(book, planes=PLANES, lines=lines, settings=VisitSettings(seed="8"))
    assert spots(found, "H1") == spots(again, "H1") != spots(other, "H1")


def test_every_inch_between_the_ends_is_as_likely() -> None:
    """Drawn one at a time with 4,000 seeds, 19 marks of 20 in each come as often (chi-square)."""
    counts = [0] * 20
    for seed in range(4000):
        (at,) = drawn_along(1, length=20 * NM_PER_INCH, units=Units.INCH, seed=str(seed))
        counts[Fraction(at) // NM_PER_INCH] += 1
    assert counts[0] == 0
    assert stats.chisquare(counts[1:]).pvalue > 0.01


def test_spots_on_planes_are_words_anyone_finds() -> None:
    """Few are thirds and halves, many are shares up and across; those taken are left out."""
    assert spread_over(1) == ("middle of the slope",)
    assert spread_over(3) == (
        "lower third, left", "middle third, middle", "upper third, right",
    )  # fmt: skip
    assert spread_over(4) == (
        "25 % up, 25 % from the left", "25 % up, 75 % from the left",
        "75 % up, 25 % from the left", "75 % up, 75 % from the left",
    )  # fmt: skip
    beside = spread_over(1, taken=("Middle  of the slope",))
    assert beside == ("lower half, left",)
    assert len(set(spread_over(30))) == 30
    assert len(set(drawn_over(20, seed="3"))) == 20
    assert drawn_over(20, seed="3") == drawn_over(20, seed="3") != drawn_over(20, seed="4")
    assert len(drawn_over(999, seed="3")) == 361  # every 5 % up and across, but the edges


def test_planes_need_stations_by_their_area() -> None:
    """One for each 100 ft2 of 250 ft2 is three; without the area it is asked for."""
    book = rulebook(
        rule("e", "station.exposure", {"at_most": "8 in"}, stations={"one_per": "100 ft2"})
    )
    known = visit(book, planes={"S": {"area": "250 ft2"}})
    assert len(spots(known, "S")) == 3
    found = visit(book, planes={"S": {}})
    assert len(spots(found, "S")) == 1
    area = asked(found, "planes", "S", "area")
    assert demanded_words(area) == "tells how many stations are due for test/house#e"


def test_no_rule_makes_a_plan_without_end() -> None:
    """A station for each 1/64 in of a long hip is asked of nobody; the plan says where it stops."""
    book = rulebook(
        rule("g", "station.gap", {"at_least": "3 in"}, when={"line.kind": "hip"},
             stations={"one_per": "1/64 in"}),
    )  # fmt: skip
    found = visit(book, planes=PLANES, lines={"H1": {**HIP, "length": "1000 ft"}})
    assert len(spots(found, "H1")) == 500
    (stop,) = [stop for stop in stops(found, Part.ROOF) if stop.place.id == "H1"]
    assert stop.why[-1] == "no more than 500 are laid out here, whatever is asked"


# samples


@pytest.mark.parametrize(
    ("confidence", "share", "pieces"),
    # Success run, n = ln(1 - C) / ln(R) up to a whole piece: the usual table of zero-failure
    # plans, as in NIST/SEMATECH e-Handbook of Statistical Methods, 8.3.1 (recalled).
    [("9/10", "9/10", 22), ("95/100", "9/10", 29), ("9/10", "95/100", 45), ("95/100", "95/100", 59),
     ("99/100", "9/10", 44), ("99/100", "99/100", 459), ("1/2", "9/10", 7)],
)  # fmt: skip
def test_the_success_run_is_the_published_one(confidence: str, share: str, pieces: int) -> None:
    """So many without a fault make it so sure; one fewer would not, by scipy's binomial."""
    certainty = Certainty(Fraction(confidence), Fraction(share))
    assert certainty.pieces == pieces
    sure, right = float(certainty.confidence), float(certainty.share)
    assert pieces == math.ceil(math.log(1 - sure) / math.log(right))
    assert (
        stats.binom.pmf(0, pieces, 1 - right)
        <= 1 - sure
        < stats.binom.pmf(0, pieces - 1, 1 - right)
    )
    # The upper Clopper-Pearson bound on the faulty share, none found, is what was asked.
    assert stats.beta.ppf(sure, 1, pieces) <= 1 - right < stats.beta.ppf(sure, 1, pieces - 1)


def test_a_sample_is_parted_by_length_and_says_what_it_shows() -> None:
    """22 stations on hips of 30, 20 and 10 ft are 11, 8 and 4: each part rounded up."""
    book = rulebook(rule("g", "station.gap", {"at_least": "3 in"}, when={"line.kind": "hip"}))
    lines = {
        id_: {**HIP, "length": f"{feet} ft"} for id_, feet in (("A", 30), ("B", 20), ("C", 10))
    }
    nine = Fraction(9, 10)
    settings = VisitSettings(seed="1", certainty=Certainty(nine, nine))
    found = visit(book, planes=PLANES, lines=lines, settings=settings)
    assert [len(spots(found, id_)) for id_ in "ABC"] == [11, 8, 4]
    assert found.samples == (
        (
            "23 stations on 3 hips: if all are right, it is 90 % sure that at least 90 % of the "
            "hips is right (success run, 22 needed)"
        ),
    )
    spread = visit(
        book, planes=PLANES, lines=lines, settings=VisitSettings(certainty=Certainty(nine, nine))
    )
    assert "name a seed to draw them" in spread.samples[0]


@given(st.data())
def test_a_parted_sample_shows_no_less_than_one_over_all(data: st.DataObject) -> None:
    """However faults lie on the lines, the parts miss them no more often than one draw would."""
    feet = data.draw(st.lists(st.integers(1, 60), min_size=1, max_size=5))
    faulty = [data.draw(st.floats(0, 1)) for _ in feet]
    book = rulebook(rule("g", "station.gap", {"at_least": "3 in"}))
    against = plan(book)
    lines = {f"L{i}": {**HIP, "length": f"{n} ft"} for i, n in enumerate(feet)}
    hosts = record({"planes": PLANES, "lines": lines}, against).places
    nine = Fraction(9, 10)
    (sample,) = samples(
        [line for group in hosts.values() for line in group if line.id in lines],
        Certainty(nine, nine), seed="1",
    )  # fmt: skip
    counts = [sample.counts["lines", f"L{i}"] for i in range(len(feet))]
    missed = math.prod((1 - p) ** n for p, n in zip(faulty, counts, strict=True))
    whole = sum(p * n for p, n in zip(faulty, feet, strict=True)) / sum(feet)
    assert missed <= (1 - whole) ** 22 + 1e-12


def test_stations_chosen_by_hand_are_no_part_of_a_drawn_sample() -> None:
    """Five readings that somebody chose leave all drawn ones due; filled in, none is due again."""
    book = rulebook(rule("g", "station.gap", {"at_least": "3 in"}, when={"line.kind": "hip"}))
    chosen = [{"at": f"{n} ft 1/2 in", "gap": "3 in"} for n in range(1, 6)]
    hip = {**HIP, "length": "20 ft", "stations": chosen}
    nine = Fraction(9, 10)
    settings = VisitSettings(seed="5", certainty=Certainty(nine, nine))
    against = plan(book)
    found = visit(against, planes=PLANES, lines={"H1": hip}, settings=settings)
    assert len(spots(found, "H1")) == 22
    filled: Any = read_document(blank_record(found).encode(), name="blank.yaml").data
    for station in filled["lines"]["H1"]["stations"]:
        station["gap"] = "3 in"
    document = read_document(json.dumps(filled).encode(), name="filled.json")
    again = plan_visit(against, read_record(document, against.vocabulary), settings)
    assert ("lines", "H1") not in {question.path[:2] for question in again.questions}


@pytest.mark.parametrize(("lot", "pieces"), [(10, 9), (30, 16), (100, 20), (1000, 22)])
def test_counted_pieces_are_sampled_by_their_lot(lot: int, pieces: int) -> None:
    """Of a lot fewer do: the least that miss a faulty tenth with a chance of a tenth (scipy)."""
    nine = Fraction(9, 10)
    found = pieces_of(lot, Certainty(nine, nine), seed="2")
    assert found.count == pieces
    faulty = max(1, lot // 10)
    missed = [stats.hypergeom.pmf(0, lot, faulty, n) for n in (pieces - 1, pieces)]
    assert missed[1] <= 0.1 + 1e-12 < missed[0] + 1e-12
    assert found.numbers == drawn(pieces, of=lot, seed="2")


def test_a_counted_sample_says_which_pieces_to_look_at() -> None:
    """With a lot in the outline and a certainty asked for, the plan draws numbers from it."""
    book = rulebook(rule("s", "plane.slope", {"at_least": "3:12"}))
    nine = Fraction(9, 10)
    settings = VisitSettings(seed="9", certainty=Certainty(nine, nine))
    found = visit(book, samples={"caps": {"of": "ridge caps", "lot": 30}}, settings=settings)
    numbers = ", ".join(map(str, drawn(16, of=30, seed="9 samples/caps")))
    assert asked(found, "samples", "caps", "inspected").known == (
        f"look at 16 of 30: numbers {numbers}"
    )
    assert asked(found, "samples", "caps", "faulty").known == ""
    assert found.samples == (
        (
            "caps: 16 pieces of 30 without a fault: 90 % sure that at least 90 % of them are right "
            "(hypergeometric)"
        ),
    )


# the walk


def test_the_walk_over_the_demo() -> None:
    """Over the invented house of six planes nobody comes to a place twice."""
    found = outline_plan("demo/harrow-lane.yaml", BOOKS[2])
    walked = [stop.place.id for stop in stops(found, Part.ROOF)]
    assert walked == [
        # the south slope from its eave, then round by the hips, each with its first cap
        "E1", "S", "J1", "H1", "E2", "E", "J2", "H2", "E3", "N", "C1", "J3", "H3", "E4", "W", "P1",
        # the last hip leads back to the south slope; then the ridge, its joints and the wing
        "J4", "H4", "R1", "J5", "J6", "V1", "E5", "A", "J7", "R2", "E6", "B", "V2", "J8",
    ]  # fmt: skip
    assert len(set(walked)) == len(walked)


def test_parts_come_in_the_order_of_a_visit() -> None:
    """Papers first, then the ground, below the deck, the roof, and deliveries last."""
    found = outline_plan("demo/harrow-lane.yaml", BOOKS[2])
    assert [part.part for part in found.parts] == [*Part]
    keys = {
        part.part: {question.key for stop in part.stops for question in stop.everything}
        for part in found.parts
    }
    assert {"permit", "installation", "registration", "trained"} <= keys[Part.PAPERS]
    assert {"vent_area", "vent_per_length"} <= keys[Part.PAPERS]
    assert {"hips", "planes", "vented", "kind"} & keys[Part.GROUND] == {"hips", "planes", "vented"}
    assert {"deck_panel", "through_deck", "air_space"} <= keys[Part.BELOW]
    assert {"gap", "membrane", "overhang", "cricket"} <= keys[Part.ROOF]
    assert keys[Part.AFTER] == {"caps", "cap_profile", "date"} - {"date"}


def test_stations_are_walked_up_the_line_and_tools_kept_in_hand() -> None:
    """On a hip the stations come eave first; what a tape reads is asked together."""
    found = outline_plan("demo/harrow-lane.yaml", BOOKS[2])
    (hip,) = [stop for stop in stops(found, Part.ROOF) if stop.place.id == "H1"]
    at = [station.place.at for station in hip.stations]
    amounts = [Fraction(spot.amount) for spot in at if spot]
    assert amounts == sorted(amounts)
    tools = [question.tool for question in hip.questions]
    assert tools == sorted(tools, key=[*dict.fromkeys(tools)].index)
    assert tools[0] == ""


def test_a_roof_in_two_pieces_is_walked_piece_by_piece() -> None:
    """Planes that no line joins, and what lies on none, are come to all the same."""
    book = rulebook(
        rule("a", "plane.slope", {"at_least": "3:12"}),
        rule("b", "line.length", {"at_least": "1 ft"}),
        rule("c", "opening.flashed", "present"),
        rule("d", "joint.trimmed", "present"),
    )
    found = visit(
        book,
        planes={"A": {}, "B": {}, "C": {}},
        lines={"L": {"kind": "ridge", "between": ["A", "C"]}, "M": {"kind": "hip"}},
        openings={"O": {}},
        joints={"J": {}},
    )
    walked = [stop.place.id for stop in stops(found, Part.ROOF)]
    assert walked == ["A", "L", "C", "B", "M", "O", "J"]


@pytest.mark.parametrize("seed", range(12))
def test_no_place_is_walked_twice_or_forgotten(seed: int) -> None:
    """Whatever lines join the planes, each place stands in the walk once."""
    draw = random.Random(seed)
    ids = [f"P{i}" for i in range(draw.randint(1, 7))]
    kinds = ["hip", "ridge", "valley", None]
    lines = {
        f"L{i}": {"kind": draw.choice(kinds), "between": draw.sample(ids, min(2, len(ids)))}
        for i in range(draw.randint(0, 9))
    }
    lines |= {f"E{i}": {"kind": "eave", "between": [draw.choice(ids)]} for i in range(3)}
    joints = {f"J{i}": {"lines": draw.sample([*lines], draw.randint(1, 3))} for i in range(4)}
    book = rulebook(
        rule("a", "plane.exposure", {"at_least": "1 in"}),
        rule("b", "line.flashed", "present"), rule("c", "joint.trimmed", "present"),
    )  # fmt: skip
    found = visit(book, planes={key: {} for key in ids}, lines=lines, joints=joints)
    walked = [stop.place.id for stop in stops(found, Part.ROOF)]
    assert sorted(walked) == sorted([*ids, *lines, *joints])


# what to bring, what to mind


def test_only_what_is_needed_is_brought() -> None:
    """A tape, a ladder and what hidden things ask for; no lamp where nothing is seen from below."""
    book = rulebook(
        rule("w", "line.membrane_width", {"at_least": "8 in"},
             evidence={"how": ["cap lifted", "photo during work"]}),
    )  # fmt: skip
    found = visit(book, planes=PLANES, lines={"H1": HIP})
    assert found.bring == (
        "a tape",
        "a ladder or a lift, as the employer's rules decide for this roof",
        "a camera or a phone",
        "the photos that the crew took during the work, which spare lifting caps and slates",
        "spare caps, slates and fasteners, for what has to be lifted",
    )
    assert any(words.startswith("One answer is under caps or slates") for words in found.mind)
    papers = visit(rulebook(rule("t", "roof.installer_trained", "present")))
    assert papers.bring == ("the papers: permit, delivery notes, data sheets, registration",)


def test_the_steepest_plane_and_what_narrows_the_plan_are_minded() -> None:
    """The steepest slope recorded is told, and the facts on which most questions hang."""
    book = rulebook(
        rule("g", "line.flashed", "present", when={"line.vented": True}),
        rule("h", "line.membrane", "present", when={"line.vented": True}),
    )
    planes = {"S": {"slope": "7:12"}, "E": {"slope": "12:12"}, "N": {"slope": "30 deg"}}
    found = visit(book, planes=planes, lines={"R1": RIDGE})
    assert found.mind[0].startswith("The steepest plane recorded is E at 12:12;")
    assert found.mind[-1].endswith("hang on them: line vented (2).")


def test_rules_that_count_uncertainty_are_minded() -> None:
    """Where a rulebook decides by guarded acceptance, instruments have to be written down."""
    book = rulebook(
        rule("s", "plane.slope", {"at_least": "3:12"}), decision_rule="guarded acceptance"
    )
    told = visit(book, planes={"S": {}}).mind
    assert any(words.startswith("1 rule counts the uncertainty of readings") for words in told)
    simple = visit(rulebook(rule("s", "plane.slope", {"at_least": "3:12"})), planes={"S": {}})
    assert not any("uncertainty" in words for words in simple.mind)


def test_a_length_in_feet_stays_what_it_was() -> None:
    """The number of nanometres in a foot is what positions are counted in."""
    assert spread_along(1, length=10 * NM_PER_FOOT, units=Units.INCH) == (5 * NM_PER_FOOT,)

"""Drawings: well formed, linked, true to distance and limit, the same every time."""

from __future__ import annotations

import copy
import os
import re
import subprocess
import sys
import xml.etree.ElementTree as ET
from collections import Counter
from fractions import Fraction
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from ridgerule.audit.compile import plan_for
from ridgerule.audit.evaluate import evaluate
from ridgerule.audit.findings import Audit, Outcome
from ridgerule.audit.judge import Setting
from ridgerule.documents import load_document
from ridgerule.facts import Element, LineKind
from ridgerule.problems import Location
from ridgerule.quantities import Dimension, Units
from ridgerule.record_reader import read_record
from ridgerule.reports.drawing_coordinates import by_coordinates
from ridgerule.reports.drawing_findings import DRAWN, numbered
from ridgerule.reports.drawing_labels import Board, Box, at_point, crosses, cut
from ridgerule.reports.drawing_layout import Layout, laid_out
from ridgerule.reports.drawing_limits import EVERYTHING, Range, accepted, common
from ridgerule.reports.drawing_plan import roof_plan
from ridgerule.reports.drawing_regions import heart
from ridgerule.reports.drawing_ring import ring
from ridgerule.reports.drawing_scale import Scale, distance_ticks, level_ticks
from ridgerule.reports.drawing_section import sections_of
from ridgerule.reports.drawing_section_svg import section
from ridgerule.reports.drawing_spots import spots_of
from ridgerule.reports.drawing_strip import Strip, strips_of
from ridgerule.reports.drawing_strip_svg import strip
from ridgerule.reports.drawing_svg import DRAWING_STYLE, clipped, number, text_width, wrapped
from ridgerule.reports.page import Page
from ridgerule.reports.strip_text import MOST_LINES, strip_lines
from ridgerule.reports.text import text_report
from ridgerule.reports.view import Settings, View, view_of
from ridgerule.shelf import Shelf
from ridgerule.units import NM_PER_FOOT, NM_PER_INCH, NM_PER_MM
from roofs import faulty_roof, sound_roof, value_paths, without
from workshop import audit, rule, rulebook
from workshop import plan as plan_of

if TYPE_CHECKING:
    from collections.abc import Iterator

FIXTURES = Path(__file__).parent.parent / "fixtures"
SVG = "{http://www.w3.org/2000/svg}"
ROOFS = (
    "demo/harrow-lane.yaml",
    "clean/mill-bank.yaml",
    "metric/tern-quay.yaml",
    "turret/heron-turret.yaml",
    "four-slopes/weir-end.yaml",
)
PRACTICE = "practice/hip-and-ridge@2026-11"
HOSTILE = '<script>alert("1")</script> & \'\u202e\x1b[31m]]> \ufffe ' + "long " * 2000
_DONE: dict[str, Audit] = {}


def audited(name: str) -> Audit:
    """Return the audit of a fixture, once made."""
    if name not in _DONE:
        document = load_document(FIXTURES / name)
        books = document.data["rulebooks"]  # type: ignore[index, call-overload]
        plan = plan_for([(str(book), Location("test")) for book in books], Shelf())  # type: ignore[union-attr]
        _DONE[name] = evaluate(plan, read_record(document, plan.vocabulary))
    return _DONE[name]


def viewed(done: Audit, *, units: Units | None = None, for_data: bool = False) -> View:
    """Return an audit in words, as a page for people has it."""
    return view_of(done, settings=Settings(units=units, for_data=for_data))


def drawings(done: Audit, view: View | None = None) -> Iterator[str]:
    """Yield every drawing there is of an audit."""
    shown = view or viewed(done)
    yield roof_plan(done, shown)
    yield from map(strip, strips_of(done, shown))
    yield from map(section, sections_of(done, shown))


def checked(drawn: str) -> ET.Element:
    """Return a drawing parsed, after a look at all that no drawing may hold."""
    root = ET.fromstring(drawn)  # noqa: S314 - our own
    assert root.tag == f"{SVG}svg"
    assert [child.tag for child in root[:2]] == [f"{SVG}title", f"{SVG}desc"]
    assert root[0].text
    assert root[1].text
    _, _, width, height = map(float, root.attrib["viewBox"].split())
    assert width > 0 < height
    assert "width" not in root.attrib, "a drawing is as wide as its place"
    for element in root.iter():
        name = element.tag.removeprefix(SVG)
        assert name in {"svg", "title", "desc", "g", "path", "rect", "circle", "text", "a"}
        assert not {"id", "style", "onload", "onclick"} & element.attrib.keys()
        assert element.attrib.get("href", "#")[0] == "#"
        for colour in ("fill", "stroke"):
            assert element.attrib.get(colour, "none") in {"none", "currentColor"}
    assert not re.search(r"nan|inf|[0-9]e[-+]?[0-9]", " ".join(_coordinates(root)))
    return root


def _coordinates(root: ET.Element) -> Iterator[str]:
    for element in root.iter():
        for key in ("d", "x", "y", "cx", "cy", "transform", "width", "height", "viewBox"):
            if key in element.attrib:
                yield element.attrib[key]


def links(root: ET.Element) -> Counter[str]:
    """Return where a drawing's links lead, and how often."""
    return Counter(element.attrib["href"] for element in root.iter(f"{SVG}a"))


def of_class(root: ET.Element, name: str) -> list[ET.Element]:
    """Return the elements of a class."""
    return [e for e in root.iter() if name in e.attrib.get("class", "").split()]


def assert_linked(done: Audit, view: View, root: ET.Element) -> None:
    """Every failed and open finding is linked exactly once, and nothing else is."""
    wanted = {f"#finding-{f.number}" for f in view.findings if f.outcome in DRAWN}
    assert links(root) == Counter(dict.fromkeys(wanted, 1))


# every drawing


@pytest.mark.parametrize("name", ROOFS)
def test_every_drawing_is_well_formed_and_self_contained(name: str) -> None:
    """All drawings of every fixture parse, hold no id, no script and no colour of their own."""
    drawn = [checked(one) for one in drawings(audited(name))]
    assert len(drawn) >= 1


def test_the_demo_has_every_kind_of_drawing() -> None:
    """The demo roof shows a plan, six strips, and a section of a hip and of a ridge."""
    done = audited(ROOFS[0])
    view = viewed(done)
    assert [(one.host, one.name) for one in strips_of(done, view)] == [
        ("plane S", "fasteners"),
        ("plane A", "penetration"),
        ("hip H1", "gap"),
        ("ridge R1", "setback"),
        ("hip H4", "cap exposure"),
        ("hip H3", "gap"),
    ]
    assert [one.place for one in sections_of(done, view)] == ["hip H1 at 9 ft", "ridge R1 at 12 ft"]


def test_a_clean_roof_has_no_strip_and_no_section() -> None:
    """Where nothing failed and nothing is open there is a plan, and no reading is drawn."""
    done = audited("clean/mill-bank.yaml")
    assert len(list(drawings(done))) == 1


def test_an_image_says_that_it_is_one() -> None:
    """A strip is an image with a title and a description; a plan, with its links, is a group."""
    done = audited(ROOFS[0])
    view = viewed(done)
    image = checked(strip(strips_of(done, view)[2]))
    assert image.attrib["role"] == "img"
    assert image[0].text == "Gap along hip H1"
    assert "hip H1 at 9 ft: 2 9/16 in, fail" in (image[1].text or "")
    assert "must be at least 3 1/16 in" in (image[1].text or "")
    plan = checked(roof_plan(done, view))
    assert plan.attrib["role"] == "group"
    assert "Finding 4, fail, at hip H1 at 9 ft." in (plan[1].text or "")


def test_the_style_names_every_class_of_a_colour() -> None:
    """Each class that the stylesheet colours is used, and takes its colour from the page."""
    told = set(re.findall(r"\.drawing\.?\s?\.([a-z-]+)", DRAWING_STYLE))
    done = audited(ROOFS[0])
    used = set(re.findall(r'class="([^"]*)"', "".join(drawings(done))))
    words = {word for one in used for word in one.split()}
    assert {"ink", "faint", "outcome-fail", "outcome-open", "outcome-pass"} <= told & words
    assert not re.search(r"#[0-9a-f]{3}|rgb|hsl", DRAWING_STYLE)


# the plan


@pytest.mark.parametrize("name", ROOFS)
def test_every_failed_or_open_finding_is_linked_once(name: str) -> None:
    """The plan links each failed and open finding once, on it or under it."""
    done = audited(name)
    view = viewed(done)
    assert_linked(done, view, checked(roof_plan(done, view)))


def test_links_begin_with_what_the_page_says() -> None:
    """A page with several roofs gives each its own beginning of links."""
    done = audited(ROOFS[0])
    root = checked(roof_plan(done, viewed(done), link="roof-2-finding-"))
    assert "#roof-2-finding-4" in links(root)
    assert all(href.startswith("#roof-2-finding-") for href in links(root))


def test_findings_keep_their_numbers() -> None:
    """Each finding of the audit stands beside the view's finding that was made of it."""
    for name in ROOFS:
        done = audited(name)
        view = viewed(done, for_data=True)
        pairs = numbered(done, view)
        assert [pair.view.number for pair in pairs] == list(range(1, len(done.findings) + 1))
        assert {id(pair.finding) for pair in pairs} == {id(finding) for finding in done.findings}
        for pair in pairs:
            assert pair.view.place == pair.finding.place.label
            assert pair.view.outcome is pair.finding.outcome
            if pair.finding.rule:
                assert pair.view.rule == pair.finding.rule.full_id


def _ends(layout: Layout, line: str) -> tuple[tuple[float, float], tuple[float, float]]:
    piece = next(piece for piece in layout.pieces if piece.line == line)
    return piece.start, piece.end


def _layout(name: str) -> Layout:
    found = laid_out(audited(name).record)
    assert found is not None
    return found


def test_a_hip_roof_is_laid_out_by_its_geometry() -> None:
    """Hips run from the corners to the ridge's ends, the ridge along the middle of the eaves."""
    layout = _layout("clean/mill-bank.yaml")
    ridge = _ends(layout, "R1")
    tops = {line: _ends(layout, line)[1] for line in ("H1", "H2", "H3", "H4")}
    assert tops["H1"] == tops["H2"]
    assert tops["H3"] == tops["H4"]
    assert {tops["H1"], tops["H3"]} == set(ridge)
    south, north = _ends(layout, "E1"), _ends(layout, "E3")
    assert ridge[0][1] == pytest.approx((south[0][1] + north[0][1]) / 2)
    # 32 ft by 20 ft at the eaves and a ridge of 12 ft, as the record has them.
    eave = abs(south[1][0] - south[0][0])
    assert abs(ridge[1][0] - ridge[0][0]) / eave == pytest.approx(12 / 32, abs=0.002)
    assert abs(south[0][1] - north[0][1]) / eave == pytest.approx(20 / 32, abs=0.002)


def test_a_hip_between_unequal_slopes_turns_to_the_steeper() -> None:
    """With 6:12 to the south and 8:12 to the east a hip runs 6 west for each 8 north in plan.

    In plan it lies square to the difference of the two gradients: solid geometry.
    """
    (x0, y0), (x1, y1) = _ends(_layout("four-slopes/weir-end.yaml"), "H1")
    assert (x0 - x1) / (y0 - y1) == pytest.approx(6 / 8, abs=0.01)


def test_hips_of_a_turret_meet_in_one_point() -> None:
    """Eight hips 45 deg apart run to one apex; the edges that no line stands for are apart."""
    layout = _layout("turret/heron-turret.yaml")
    assert len({_ends(layout, f"H{n}")[1] for n in range(1, 9)}) == 1
    assert len(layout.unrecorded) == 8
    drawn = roof_plan(audited("turret/heron-turret.yaml"), viewed(audited(ROOFS[3])))
    assert "edge not recorded" in drawn


def test_a_wing_cuts_the_eave_in_two() -> None:
    """The demo's valleys meet at the wing's ridge, and its south eave is drawn in two parts."""
    layout = _layout(ROOFS[0])
    assert _ends(layout, "V1")[1] == _ends(layout, "V2")[1]
    assert _ends(layout, "V1")[1] in _ends(layout, "R2")
    assert [piece.line for piece in layout.pieces].count("E1") == 2
    assert layout.lone_lines == layout.lone_planes == ()


def test_a_station_lies_on_its_line_as_far_as_it_was_measured() -> None:
    """The spot of 9 ft on a hip of 19 ft 6 1/4 in lies that share of the way from the eave."""
    done = audited(ROOFS[0])
    (x0, y0), (x1, y1) = _ends(_layout(ROOFS[0]), "H1")
    share = 9 / (19 + Fraction("6.25") / 12)
    wanted = number(x0 + (x1 - x0) * float(share)), number(y0 + (y1 - y0) * float(share))
    root = checked(roof_plan(done, viewed(done)))
    dots = {(e.attrib["cx"], e.attrib["cy"]) for e in root.iter(f"{SVG}circle")}
    assert wanted in dots


def test_lines_are_told_by_pattern_and_word() -> None:
    """Every kind of line drawn has its word in the legend and beside each line of it."""
    done = audited(ROOFS[0])
    root = checked(roof_plan(done, viewed(done)))
    said = [element.text for element in root.iter(f"{SVG}text")]
    assert {"hip", "ridge", "valley", "eave", "rake"} <= set(said)
    for line in done.record.places[Element.LINE]:
        assert f"{line.kind} {line.id}" in said
    dashes = {e.attrib["stroke-dasharray"] for e in root.iter() if "stroke-dasharray" in e.attrib}
    assert {"9 4", "10 3 2 3"} <= dashes


def test_passes_are_counted() -> None:
    """What passed or does not apply has no number on the plan, and is counted under it."""
    done = audited(ROOFS[0])
    view = viewed(done)
    said = [element.text for element in checked(roof_plan(done, view)).iter(f"{SVG}text")]
    assert f"{view.counts[Outcome.PASS]} passed" in said
    assert f"{view.counts[Outcome.NOT_APPLICABLE]} not applicable" in said
    assert "24 failed" in said


def _demo_without(*paths: tuple[str, ...]) -> dict[str, Any]:
    document = load_document(FIXTURES / ROOFS[0])
    data: Any = document.data
    for path in paths:
        data = without(data, path)
    return {**data, "rulebooks": [PRACTICE]}


def _redrawn(data: dict[str, Any]) -> tuple[Audit, str]:
    plan = plan_for(
        [(name, Location("test")) for name in audited(ROOFS[0]).record.rulebooks], Shelf()
    )
    done = audit(data, plan)
    return done, roof_plan(done, viewed(done))


def test_a_plane_without_a_direction_makes_a_ring() -> None:
    """Where a direction is missing the planes stand in a ring, and the drawing says so."""
    data = _demo_without(("planes", "W", "faces"))
    done, drawn = _redrawn(data)
    assert laid_out(done.record) is None
    assert_linked(done, viewed(done), checked(drawn))
    assert "Which way the planes below the ring face is not recorded." in drawn
    assert ">North<" in drawn


def test_without_any_direction_there_is_no_north() -> None:
    """A roof whose planes' directions are all missing gets no arrow to the north."""
    planes = ("S", "E", "N", "W", "A", "B")
    _, drawn = _redrawn(_demo_without(*(("planes", plane, "faces") for plane in planes)))
    checked(drawn)
    assert ">North<" not in drawn
    assert "stand in the record&#39;s order" in drawn


def test_lengths_that_do_not_fit_are_left_out() -> None:
    """A hip written 41 ft long for 19 ft is laid out by directions alone, and that is said."""
    data = _demo_without()
    data["lines"]["H1"]["length"] = "41 ft"
    _, drawn = _redrawn(data)
    checked(drawn)
    assert "the lengths recorded do not fit each other" in drawn


def test_a_roof_without_lengths_is_still_laid_out() -> None:
    """Directions alone are enough for the shape; lengths then are about alike."""
    lines = _demo_without()["lines"]
    done, drawn = _redrawn(_demo_without(*(("lines", line, "length") for line in lines)))
    assert laid_out(done.record) is not None
    checked(drawn)


def test_lines_and_planes_that_fit_nowhere_are_named() -> None:
    """A line between nobody knows which planes stands under the plan, with its findings."""
    done = audit(
        {"planes": {"S": {"slope": "7:12"}}, "lines": {"H1": {"kind": "hip", "length": "9 ft"}}},
        plan_for([(PRACTICE, Location("test"))], Shelf()),
    )
    view = viewed(done)
    root = checked(roof_plan(done, view))
    assert_linked(done, view, root)
    said = [element.text for element in root.iter(f"{SVG}text")]
    assert "Lines with no place on it:" in said
    assert "H1" in said


def test_an_empty_record_has_a_plan() -> None:
    """A record of nothing but the roof draws that no plane is recorded."""
    done = audit({}, plan_for([(PRACTICE, Location("test"))], Shelf()))
    view = viewed(done)
    root = checked(roof_plan(done, view))
    assert_linked(done, view, root)
    assert any("No plane is recorded" in (e.text or "") for e in root.iter(f"{SVG}text"))


Kinds = dict[str, tuple[str, list[str], str]]


def _roof(faces: dict[str, int], lines: Kinds, **more: Any) -> dict[str, Any]:
    """Return the data of a roof of 8:12: where planes face; kind, planes and length of lines."""
    return {
        "planes": {id_: {"slope": "8:12", "faces": f"{deg} deg"} for id_, deg in faces.items()},
        "lines": {
            id_: {"kind": kind, "between": planes, "length": length}
            for id_, (kind, planes, length) in lines.items()
        },
        **more,
    }


FOUR = {"S": 180, "N": 0, "E": 90, "W": 270}
GABLE: Kinds = {
    "R1": ("ridge", ["S", "N"], "30 ft"),
    "E1": ("eave", ["S"], "30 ft"),
    "K1": ("rake", ["S"], "14 ft"),
    "K2": ("rake", ["S"], "14 ft"),
    "K3": ("rake", ["N"], "14 ft"),
}


def _laid_out(data: dict[str, Any]) -> Layout:
    layout = laid_out(audit(data, _small_plan()).record)
    assert layout is not None
    return layout


def test_wings_that_meet_in_a_corner_share_one_point() -> None:
    """Two ridges, the hip outside and the valley inside of a corner run to one point."""
    lines: Kinds = {
        "R1": ("ridge", ["S", "N"], "30 ft"),
        "R2": ("ridge", ["E", "W"], "26 ft"),
        "V1": ("valley", ["S", "W"], "17 ft"),
        "H1": ("hip", ["N", "E"], "17 ft"),
        "E1": ("eave", ["S"], "18 ft"),
    }
    layout = _laid_out(_roof(FOUR, lines))
    point = _ends(layout, "H1")[1]
    assert point == _ends(layout, "V1")[1]
    assert point in _ends(layout, "R1")
    assert point in _ends(layout, "R2")
    (x0, y0), (x1, y1) = _ends(layout, "H1")
    assert (x0 > x1, y0 < y1) == (True, True), "the hip falls to the north-east"


def test_a_gables_rakes_close_it() -> None:
    """Rakes run from the eave to the ridge's ends; which gable is whose is said to be unsure."""
    layout = _laid_out(_roof({"S": 180, "N": 0}, GABLE))
    ridge = set(_ends(layout, "R1"))
    assert {_ends(layout, "K1")[1], _ends(layout, "K2")[1]} == ridge
    assert _ends(layout, "K3")[1] in ridge
    assert len(layout.unrecorded) == 2, "the north eave and its other rake"
    assert any("Which gable a rake is on" in note for note in layout.notes)


def test_two_wings_leave_an_eave_in_three_parts() -> None:
    """Each wing cuts the eave it stands before; valleys of one wing meet at its own ridge."""
    faces = {"S": 180, "N": 0, "A": 90, "B": 270, "C": 90, "D": 270}
    lines: Kinds = {
        "R1": ("ridge", ["S", "N"], "60 ft"),
        "R2": ("ridge", ["A", "B"], "18 ft"),
        "R3": ("ridge", ["C", "D"], "18 ft"),
        **{f"V{n}": ("valley", ["S", plane], "11 ft") for n, plane in enumerate("ABCD", start=1)},
        "E1": ("eave", ["S"], "36 ft"),
    }
    layout = _laid_out(_roof(faces, lines))
    assert [piece.line for piece in layout.pieces].count("E1") == 3
    assert _ends(layout, "V1")[1] == _ends(layout, "V2")[1] != _ends(layout, "V3")[1]


def test_parts_that_no_line_joins_stand_side_by_side() -> None:
    """A house and its garage are laid out each by itself, and never over each other."""
    faces = {"S": 180, "N": 0, "E": 90, "W": 270}
    lines: Kinds = {
        "R1": ("ridge", ["S", "N"], "30 ft"),
        "R2": ("ridge", ["E", "W"], "12 ft"),
    }
    layout = _laid_out(_roof(faces, lines))
    assert any("side by side" in note for note in layout.notes)
    rights = max(x for region in layout.regions[:2] for edge in region.edges for x, _ in edge)
    lefts = min(x for region in layout.regions[2:] for edge in region.edges for x, _ in edge)
    assert rights < lefts


@pytest.mark.parametrize(
    ("line", "start", "nearer"),
    [
        ("H1", "eave", "lower"),
        ("H1", "top of the hip", "upper"),
        ("R1", "east end", "right"),
        ("R1", "W", "left"),
        ("R1", "the western end", None),
        ("R1", "J1", "right"),
        ("R1", "gable", None),
        ("R1", None, None),
    ],
)
def test_a_station_counts_from_the_end_that_is_named(
    line: str, start: str | None, nearer: str | None
) -> None:
    """An end is found by eave or ridge, by compass, by a joint or a plane; else none is guessed."""
    lines: Kinds = {
        "H1": ("hip", ["S", "E"], "18 ft"),
        "H2": ("hip", ["E", "N"], "18 ft"),
        "H3": ("hip", ["N", "W"], "18 ft"),
        "H4": ("hip", ["W", "S"], "18 ft"),
        "R1": ("ridge", ["S", "N"], "20 ft"),
    }
    data = _roof(FOUR, lines, joints={"J1": {"kind": "hips at ridge", "lines": ["H1", "H2", "R1"]}})
    data["lines"][line] |= {"from": start, "stations": [{"at": "1 ft", "gap": "2 in"}]}
    done = audit(data, _small_plan())
    layout = laid_out(done.record)
    assert layout is not None
    spots = spots_of(numbered(done, viewed(done)), done.record, layout)
    (spot,) = [one for one in spots.drawn if any("at 1 ft" in f.place for f in one.findings)]
    if nearer is None:
        assert (spot.kind, spot.point) == ("line", None)
        return
    assert spot.point is not None
    first, second = _ends(layout, line)
    end = {
        "lower": first,
        "upper": second,
        "right": max(first, second),
        "left": min(first, second),
    }[nearer]
    far = second if end == first else first
    assert abs(spot.point[0] - end[0]) < abs(spot.point[0] - far[0])


def test_openings_and_samples_stand_on_what_they_are_on() -> None:
    """A chimney stands by its plane's name, a sample by its line's; an attic has no place."""
    book = rulebook(
        rule("wide", "opening.width", {"at_most": "10 in"}),
        rule("faulty", "sample.faulty", {"at_most": "1"}),
        rule("air", "attic.air_space", {"at_least": "2 in"}),
    )
    data = _roof(
        {"S": 180, "N": 0},
        GABLE,
        openings={"C1": {"plane": "S", "width": "30 in"}, "C2": {"width": "30 in"}},
        samples={"Q1": {"line": "R1", "faulty": "5"}, "Q2": {"plane": "N", "faulty": "5"}},
        attics={"main": {"air_space": "1 in"}},
    )
    done = audit(data, book)
    view = viewed(done)
    layout = laid_out(done.record)
    assert layout is not None
    spots = spots_of(numbered(done, view), done.record, layout)
    assert {(spot.kind, spot.id, spot.label) for spot in spots.drawn} == {
        ("on plane", "S", "opening C1"),
        ("line", "R1", ""),
        ("on plane", "N", "sample Q2"),
    }
    places = {place for place, _ in spots.elsewhere}
    assert {"opening C2", "attic main"} <= places
    assert_linked(done, view, checked(roof_plan(done, view)))


def test_a_crowded_place_keeps_to_twelve_numbers() -> None:
    """More findings of one place than have room stand under the plan, each still linked once."""
    book = rulebook(*(rule(f"r{n}", "plane.slope", {"at_least": "9:12"}) for n in range(20)))
    done = audit(_roof({"S": 180, "N": 0}, GABLE), book)
    view = viewed(done)
    root = checked(roof_plan(done, view))
    assert_linked(done, view, root)
    said = [element.text for element in root.iter(f"{SVG}text")]
    assert said.count("and 8 more below") == 2
    assert "More of one place:" in said


KINDS = [kind.value for kind in LineKind]
DEGREES = st.one_of(st.none(), st.sampled_from([0, 45, 90, 135, 180, 270]), st.integers(0, 359))


@st.composite
def roofs(draw: st.DrawFn) -> dict[str, Any]:
    """Draw any roof: 1 to 40 planes, any lines between them or none, facts missing at will."""
    count = draw(st.integers(1, 40))
    ids = [f"P{n}" for n in range(count)]
    slopes, lengths = st.sampled_from([None, "4:12", "8:12", "30 deg"]), st.integers(2, 60)
    planes: dict[str, Any] = {}
    for plane in ids:
        facts = {"slope": draw(slopes)}
        faces = draw(DEGREES)
        if faces is not None:
            facts["faces"] = f"{faces} deg"
        planes[plane] = facts
    lines: dict[str, Any] = {}
    for n in range(draw(st.integers(0, 30))):
        kind = draw(st.sampled_from([*KINDS, None]))
        most = 1 if kind in ("eave", "rake") else 2
        beside = draw(st.lists(st.sampled_from(ids), max_size=most, unique=True))
        at = {"at": "1 ft", "gap": draw(st.sampled_from(["2 in", "4 in", "unknown"]))}
        lines[f"L{n}"] = {
            "kind": kind,
            "between": beside or None,
            "length": draw(st.one_of(st.none(), lengths.map("{} ft".format))),
            "stations": [at] if draw(st.booleans()) else None,
            "from": draw(st.sampled_from([None, "eave", "east end", "gable", ids[0]])),
        }
    return {"planes": planes, "lines": lines}


SMALL_BOOK = rulebook(
    rule("gap", "station.gap", {"at_least": "3 in"}, when={"line.kind": {"one_of": KINDS[:3]}}),
    rule("slope", "plane.slope", {"at_least": "5:12"}),
    rule("long", "line.length", {"at_most": "30 ft"}),
)


@given(roofs())
@settings(max_examples=60)
def test_any_roof_can_be_drawn(data: dict[str, Any]) -> None:
    """Whatever is known of a roof, its drawings are well formed and link every finding once."""
    done = audit(data, _small_plan())
    view = viewed(done)
    plan = roof_plan(done, view)
    assert_linked(done, view, checked(plan))
    assert plan == roof_plan(done, view)
    for one in strips_of(done, view):
        checked(strip(one))
        page = Page(width=60, colour=False, unicode=True)
        assert len(list(strip_lines(one, page))) <= MOST_LINES


def _small_plan() -> Any:
    if "plan" not in _PLANS:
        _PLANS["plan"] = plan_of(SMALL_BOOK)
    return _PLANS["plan"]


_PLANS: dict[str, Any] = {}


@given(st.integers(0, 400), st.data())
@settings(max_examples=40)
def test_any_fact_of_a_roof_may_be_missing(seed: int, data: st.DataObject) -> None:
    """Drawings of a roof with a value taken out stay well formed, every finding linked once."""
    roof = faulty_roof(seed) if seed % 3 else sound_roof(seed)
    paths = [
        path
        for path in value_paths(roof)
        if path[0] not in ("record", "roof") and not isinstance(path[-1], int)
    ]
    if "practice" not in _PLANS:
        _PLANS["practice"] = plan_for([(PRACTICE, Location("test"))], Shelf())
    done = audit(without(roof, data.draw(st.sampled_from(paths))), _PLANS["practice"])
    view = viewed(done)
    for i, drawn in enumerate(drawings(done, view)):
        root = checked(drawn)
        if i == 0:
            assert_linked(done, view, root)


# strips


def _strip(name: str, host: str, fact: str, *, units: Units | None = None) -> Strip:
    done = audited(name)
    found = strips_of(done, viewed(done, units=units))
    return next(one for one in found if (one.host, one.name) == (host, fact))


def _stations(root: ET.Element) -> dict[str, tuple[float, float]]:
    """Return where each station's shape stands, by its title."""
    found = {}
    for element in of_class(root, "station"):
        x, y = re.findall(r"[-0-9.]+", element.attrib["transform"])
        found[element[0].text or ""] = float(x), float(y)
    return found


def test_stations_lie_in_proportion_to_their_distance() -> None:
    """Along a strip equal distances are equally far apart, from 0 to the line's length."""
    shown = _strip(ROOFS[0], "hip H1", "gap")
    root = checked(strip(shown))
    xs = {title.split(":")[0]: x for title, (x, _) in _stations(root).items()}
    feet = {label: float(label.split(" at ")[1].removesuffix(" ft")) for label in xs}
    (near, far) = "hip H1 at 2 ft", "hip H1 at 17 ft"
    per_foot = (xs[far] - xs[near]) / 15
    assert per_foot > 5
    for label, x in xs.items():
        assert x == pytest.approx(xs[near] + (feet[label] - 2) * per_foot, abs=0.02)


def test_the_limits_line_lies_at_the_limit() -> None:
    """Readings and the limit share one scale: the line lies where a reading of it would."""
    shown = _strip(ROOFS[0], "hip H1", "gap")
    root = checked(strip(shown))
    ys = {title: y for title, (_, y) in _stations(root).items()}
    line = next(e for e in of_class(root, "limit")[0] if e.tag == f"{SVG}path")
    y = float(line.attrib["d"].split()[1])
    assert line.attrib["d"].count(number(y)) == 2, "it is level"
    assert y == pytest.approx(ys["hip H1 at 6 ft: 3 1/16 in, pass"], abs=0.02)
    # 3 1/8 in lies 1/16 in over it, 2 9/16 in lies 8/16 in under it.
    over = y - ys["hip H1 at 2 ft: 3 1/8 in, pass"]
    under = ys["hip H1 at 9 ft: 2 9/16 in, fail"] - y
    assert under / over == pytest.approx(8, rel=0.01)


def test_a_strip_tells_its_aim_and_its_limits() -> None:
    """The limit, the aim and each reading stand beside what they name."""
    root = checked(strip(_strip(ROOFS[0], "hip H1", "gap")))
    said = [element.text for element in root.iter(f"{SVG}text")]
    assert {"at least 3 1/16 in", "aim 3 1/8 in", "2 9/16 in at 9 ft", "from eave"} <= set(said)
    assert said.count("3 1/8 in") == 3
    assert of_class(root, "accepted")


def test_each_side_is_its_own_series() -> None:
    """Readings per side are marked by their plane, and each is judged by itself."""
    shown = _strip(ROOFS[0], "ridge R1", "setback")
    at = [(one.where, one.side, one.outcome, one.numbers) for one in shown.marks]
    assert at[4:] == [("12 ft", "S", Outcome.FAIL, (5,)), ("12 ft", "N", Outcome.PASS, ())]
    said = [element.text for element in checked(strip(shown)).iter(f"{SVG}text")]
    assert "S 1 3/4 in at 12 ft" in said
    assert "N 2 5/16 in" in said


def test_an_unknown_reading_stands_on_the_axis() -> None:
    """A reading that nobody could take is a question mark on the line, where it was due."""
    shown = _strip(ROOFS[0], "hip H3", "gap")
    stations = _stations(checked(strip(shown)))
    known, unknown = sorted(stations.items(), key=lambda item: item[1][1])
    assert unknown[0] == "hip H3 at 12 ft: can't reach, not verified"
    assert unknown[1][1] > known[1][1]
    assert shown.lacks == ("1 of 4 stations read on hip H3 (at least 3, one per 6 ft)",)


TWO_BOOKS = (
    rulebook(rule("gap", "station.gap", {"at_least": "3 in"}), name="ours/one@1"),
    rulebook(rule("gap", "station.gap", {"at_least": "3 1/4 in"}), name="ours/two@1"),
)
HIP = {
    "planes": {"S": {}, "E": {}},
    "lines": {
        "H1": {
            "kind": "hip",
            "between": ["S", "E"],
            "length": "12 ft",
            "stations": [
                {"at": "3 ft", "gap": "3 1/8 in"},
                {"gap": "3 1/2 in"},
                {"at": "6 ft", "gap": "unknown"},
            ],
        }
    },
}


def test_the_limit_that_governs_stands_first() -> None:
    """Of two limits on one fact the stricter is the strip's first, and says that it governs."""
    done = audit(HIP, *TWO_BOOKS, asked=("ours/one@1", "ours/two@1"))
    (shown,) = strips_of(done, viewed(done))
    assert [(one.limit, one.said) for one in shown.rules] == [
        ("at least 3 1/4 in", "governs"),
        ("at least 3 in", "under it"),
    ]
    first = shown.marks[0]
    known = [ranges for ranges in first.accepted if ranges is not None]
    assert common(known) == (Range(Fraction(13, 4) * NM_PER_INCH),)
    said = [element.text for element in checked(strip(shown)).iter(f"{SVG}text")]
    assert {"at least 3 1/4 in", "at least 3 in"} <= set(said)


def test_a_station_without_a_distance_stands_apart() -> None:
    """A reading from nobody knows where along the line is drawn beside it, not on it."""
    done = audit(HIP, *TWO_BOOKS, asked=("ours/one@1", "ours/two@1"))
    (shown,) = strips_of(done, viewed(done))
    root = checked(strip(shown))
    said = [element.text for element in root.iter(f"{SVG}text")]
    assert "place not recorded" in " ".join(filter(None, said))
    assert "from an end not recorded" in said
    xs = {title: x for title, (x, _) in _stations(root).items()}
    assert max(xs, key=lambda title: xs[title]).startswith("hip H1 station 2")


def test_limits_in_conflict_hatch_nothing() -> None:
    """Where no value meets both limits nothing is shown as accepted."""
    books = (
        rulebook(rule("wide", "station.gap", {"at_least": "4 in"}), name="ours/one@1"),
        rulebook(rule("narrow", "station.gap", {"at_most": "3 in"}), name="ours/two@1"),
    )
    done = audit(HIP, *books, asked=("ours/one@1", "ours/two@1"))
    (shown,) = strips_of(done, viewed(done))
    assert {one.said for one in shown.rules} == {"conflict"}
    assert not of_class(checked(strip(shown)), "accepted")


def test_limits_that_differ_from_place_to_place_are_drawn_at_each() -> None:
    """A limit that another fact of the station lifts stands only where it holds."""
    book = rulebook(
        rule(
            "gap",
            "station.gap",
            {"any_of": [{"at_least": "4 in"}, {"where": {"station.overdriven": "yes"}}]},
        )
    )
    data = {
        "lines": {
            "H1": {
                "kind": "hip",
                "length": "12 ft",
                "stations": [
                    {"at": "3 ft", "gap": "3 in", "overdriven": "no"},
                    {"at": "9 ft", "gap": "3 in", "overdriven": "yes"},
                ],
            }
        }
    }
    done = audit(data, book)
    (shown,) = strips_of(done, viewed(done))
    assert [one.outcome for one in shown.marks] == [Outcome.FAIL, Outcome.PASS]
    assert [one.accepted[0] for one in shown.marks] == [(Range(4 * NM_PER_INCH),), EVERYTHING]
    root = checked(strip(shown))
    start, end = re.findall(r"[ML]([0-9.]+)", of_class(root, "limit")[0][0].attrib["d"])
    (x, _) = _stations(root)["hip H1 at 3 ft: 3 in, fail"]
    assert float(start) < x < float(end) < x + 40


def test_a_strip_keeps_the_records_units() -> None:
    """Metric readings get a scale in metres and millimetres; another system can be asked for."""
    done = audited("metric/tern-quay.yaml")
    (shown,) = strips_of(done, viewed(done))
    assert (shown.units, shown.distance_units) == (Units.METRIC, Units.METRIC)
    said = [element.text for element in checked(strip(shown)).iter(f"{SVG}text")]
    assert {"1 m", "77.7 mm at 3.66 m", "4.66 m"} <= set(said)
    (other,) = strips_of(done, viewed(done, units=Units.INCH))
    assert "5 ft" in [element.text for element in checked(strip(other)).iter(f"{SVG}text")]


def test_a_plane_has_its_stations_side_by_side() -> None:
    """Stations of a plane have no distance, and stand in the order they were recorded in."""
    root = checked(strip(_strip(ROOFS[0], "plane S", "fasteners")))
    xs = [x for x, _ in _stations(root).values()]
    assert xs == sorted(xs)
    assert root[0].text == "Fasteners on plane S"


# sections


def test_a_section_shows_the_gap_beside_its_limit() -> None:
    """The open space and its limit are drawn in one scale: 2 9/16 in to 3 1/16 in is 41 to 49."""
    done = audited(ROOFS[0])
    shown = sections_of(done, viewed(done))[0]
    assert shown.angle == "≈ 133.71 deg computed"
    assert shown.membrane is not None
    assert shown.membrane.text == "9 in"
    root = checked(section(shown))
    gap = _widest(of_class(root, "outcome-fail")[0])
    limit = _widest(next(e for e in of_class(root, "limit") if e.tag == f"{SVG}g"))
    assert gap / limit == pytest.approx(41 / 49, rel=0.01)
    said = [element.text for element in root.iter(f"{SVG}text")]
    assert {"2 9/16 in", "at least 3 1/16 in", "membrane strip 9 in", "plane S"} <= set(said)


def _widest(dimension: ET.Element) -> float:
    """Return how far apart the two lines stand that lead a dimension down."""
    leads = [e.attrib["d"] for e in dimension if e.tag == f"{SVG}path"][:2]
    xs = [float(re.findall(r"M([-0-9.]+)", data)[0]) for data in leads]
    return abs(xs[1] - xs[0])


def test_a_section_of_a_vented_ridge_shows_each_side() -> None:
    """Setbacks stand on their own sides, each with the shape of its outcome."""
    done = audited(ROOFS[0])
    shown = sections_of(done, viewed(done))[1]
    assert [(side.plane, side.is_met) for side in shown.sides] == [("S", False), ("N", True)]
    root = checked(section(shown))
    assert of_class(root, "outcome-fail")
    assert of_class(root, "outcome-pass")
    said = [element.text for element in root.iter(f"{SVG}text")]
    assert {"S 1 3/4 in", "N 2 1/4 in"} <= set(said)


def test_a_section_without_an_angle_says_that_it_is_schematic() -> None:
    """Where slopes or directions are missing the section is not to scale, and says so."""
    done = audit(HIP, TWO_BOOKS[1])
    shown = sections_of(done, viewed(done))[0]
    assert shown.angle == ""
    drawn = section(shown)
    checked(drawn)
    assert "drawn at 130 deg: not to scale" in drawn
    assert "angle not known" in drawn


# hostile text


def test_hostile_text_stays_text() -> None:
    """Tags, quotes, control and turning characters in any text are shown, cut, and never markup."""
    book = rulebook(
        rule("gap", "station.gap", {"at_least": "3 in"}, title=HOSTILE[:500], why="x"),
        rule("slots", "station.exposure", {"at_least": "9 in"}, title="<b>&amp;"),
    )
    data = {
        "roof": {"id": "<i>", "name": HOSTILE.replace("\ufffe", "").replace("\x1b", "")},
        "planes": {
            "S": {"stations": [{"at": "<u>\u202e near 'the' \"eave\"", "exposure": "8 in"}]}
        },
        "lines": {
            "H1": {
                "kind": "hip",
                "between": ["S"],
                "from": "<b>\u200f" + "w" * 9000,
                "length": "9 ft",
                "name": "<script>",
                "stations": [{"at": "2 ft", "gap": "2 in"}, {"gap": "4 in"}],
            }
        },
    }
    done = audit(data, book.replace("\\ufffe", " ").replace("\\u001b", " "))
    found = list(drawings(done))
    assert len(found) >= 3
    for drawn in found:
        root = checked(drawn)
        assert "\u202e" not in drawn
        assert "\u200f" not in drawn
        assert "<script" not in drawn
        assert "<b>" not in drawn
        assert all(len(element.text or "") < 400 for element in root.iter(f"{SVG}text"))
        assert len(drawn) < 60_000
    page = Page(width=80, colour=False, unicode=True)
    for one in strips_of(done, viewed(done)):
        for line in page.printed([strip_lines(one, page)]).splitlines():
            assert len(line) <= 80
            assert line.isprintable()


@given(st.text(max_size=300), st.integers(1, 40))
def test_text_is_cut_to_what_was_asked(said: str, most: int) -> None:
    """Cut text is printable, on one line, and no longer than asked."""
    shown = clipped(said, most)
    assert len(shown) <= most
    assert shown.isprintable()


@given(st.text(max_size=200), st.integers(30, 300))
def test_wrapped_text_keeps_to_its_lines(said: str, width: int) -> None:
    """Words on lines are at most three, and each is no wider than asked."""
    lines = wrapped(said, width)
    assert 1 <= len(lines) <= 3
    assert all(text_width(line) <= max(width, text_width("…")) for line in lines)


def test_no_line_ends_inside_a_quantity() -> None:
    """`3 1/16 in` broken after the 3 would be read as 1/16 in."""
    lines = wrapped("must be at least 3 1/16 in wide", text_width("must be at least 3 1"))
    assert lines[0] == "must be at least"


# the same every time


def test_two_hash_seeds_give_the_same_bytes() -> None:
    """Drawings depend on no order of sets or of memory: two seeds of the hash, the same bytes."""
    program = (
        "import sys; sys.path.insert(0, sys.argv[1])\n"
        "from test_drawings import audited, drawings, ROOFS\n"
        "sys.stdout.write('\\n'.join(d for n in ROOFS for d in drawings(audited(n))))"
    )
    outs = []
    for seed in ("1", "2"):
        env = {**os.environ, "PYTHONHASHSEED": seed, "PYTHONIOENCODING": "utf-8"}
        done = subprocess.run(
            [sys.executable, "-c", program, str(Path(__file__).parent)],
            capture_output=True,
            check=True,
            env=env,
        )
        outs.append(done.stdout)
    assert len(outs[0]) > 10_000
    assert outs[0] == outs[1]
    here = "\n".join(d for n in ROOFS for d in drawings(audited(n)))
    assert outs[0].decode() == here


@pytest.mark.parametrize(
    ("value", "said"),
    [(0.0, "0"), (-0.001, "0"), (1.5, "1.5"), (-2.25, "-2.25"), (1 / 3, "0.33"), (100.0, "100")],
)
def test_coordinates_have_two_decimals_at_most(value: float, said: str) -> None:
    """Coordinates are short, with a point for any locale, and nothing is written as minus 0."""
    assert number(value) == said


# in the terminal


def _printed(shown: Strip, *, width: int = 80, unicode: bool = True) -> str:
    page = Page(width=width, colour=False, unicode=unicode)
    return page.printed([strip_lines(shown, page)])


H1_GAP = """\
hip H1, gap (4, 17): must be at least 3 1/16 in; from eave
over         ✓ 3 1/8 in                     ✓ 3 1/8 in  ✓ 3 1/8 in
limit  ─────────────────✓ 3 1/16 in───────────────────────────── 3 1/16 in
under                            ✗ 2 9/16 in
       0─────────────┴5 ft──────────┴10 ft────────┴15 ft───────┤ 19 ft 6 1/4 in
"""
R1_SETBACK = """\
ridge R1, setback (5): must be at least 2 1/4 in; from east end
over          + N 2 5/16 in
limit  -------+ S 2 1/4 in-------+ S, N 2 1/4 in---+ N 2 1/4 in- 2 1/4 in
under                                              x S 1 3/4 in
       0------------------|5 ft-------------|10 ft-------------| 15 ft 1 1/4 in
"""
H3_GAP = """\
hip H3, gap (25, 26, 27): must be at least 3 1/16 in; from eave
over                ✓ 3 1/8 in
limit  ───────────────────────────────────────────────────────────────────────────────── 3 1/16 in
under
       0──────────────────┴5 ft─────────────┴10 ft──?──────────┴15 ft──────────────────┤ 21 ft 5 in
"""
S_FASTENERS = """\
plane S, fasteners (1): must be 2
✓ 2 at course 6, left of the valley; ✓ 2 at course 14, middle; ✗ 1 at course 20,
right
"""


def test_a_strip_in_plain_characters() -> None:
    """Shapes stand over, on and under the limit, in proportion along the scale."""
    assert _printed(_strip(ROOFS[0], "hip H1", "gap")) == H1_GAP
    assert _printed(_strip(ROOFS[0], "ridge R1", "setback"), unicode=False) == R1_SETBACK
    assert _printed(_strip(ROOFS[0], "plane S", "fasteners")) == S_FASTENERS


def test_an_unknown_reading_stands_on_the_scale() -> None:
    """A reading nobody could take is a question mark on the scale itself, at its distance."""
    lines = _printed(_strip(ROOFS[0], "hip H3", "gap"), width=100).splitlines()
    scale = lines[-1]
    start, end = scale.index("0"), scale.index("┤")
    share = (scale.index("?") - start) / (end - start)
    assert share == pytest.approx(12 / (21 + 5 / 12), abs=0.01)


@pytest.mark.parametrize("width", [40, 80, 120])
@pytest.mark.parametrize("unicode", [True, False])
def test_text_strips_are_small(width: int, unicode: bool) -> None:
    """A strip takes at most six lines, none wider than the page, and ASCII where asked."""
    count = 0
    for name in ROOFS:
        done = audited(name)
        for shown in strips_of(done, viewed(done)):
            printed = _printed(shown, width=width, unicode=unicode)
            assert len(printed.splitlines()) <= MOST_LINES
            assert max(map(len, printed.splitlines())) <= width
            assert printed.isascii() or unicode
            count += 1
    assert count == 7


def test_a_reading_without_a_distance_is_named_beside_the_scale() -> None:
    """Stations without a distance stand on a line of their own under the scale."""
    done = audit(HIP, TWO_BOOKS[1])
    (shown,) = strips_of(done, viewed(done))
    lines = _printed(shown).splitlines()
    assert lines[-1] == "apart  ✓ 3 1/2 in"
    assert "?" in lines[-2]


def test_a_text_report_has_strips_only_where_asked_for() -> None:
    """Without strips the report is as it was; with them they follow the open points."""
    done = audited(ROOFS[0])
    view = viewed(done)
    bare = text_report(view, width=80, colour=False, show_all=False)
    whole = text_report(view, width=80, colour=False, show_all=False, strips=strips_of(done, view))
    assert "READINGS PLACE BY PLACE" not in bare
    assert "READINGS PLACE BY PLACE (6)" in whole
    assert H1_GAP in whole
    assert whole.index("NOT VERIFIED (") < whole.index(H1_GAP) < whole.index("SEVERAL LIMITS")


def test_the_command_draws_strips(capfd: pytest.CaptureFixture[str]) -> None:
    """`--strips` puts them into the report on the terminal."""
    from ridgerule.cli.app import run  # noqa: PLC0415 - the one test that runs a command

    assert run(["demo", "--strips"]) == 0
    assert "READINGS PLACE BY PLACE (6)" in capfd.readouterr().out


# room for words, scales, limits


@given(st.lists(st.tuples(st.floats(0, 400), st.floats(0, 300)), min_size=1, max_size=40))
@settings(max_examples=40)
def test_labels_never_lie_over_each_other(points: list[tuple[float, float]]) -> None:
    """However crowded, each label gets a place of its own."""
    board = Board(Box(0, 0, 400, 300), [((0, 0), (400, 300))])
    placed = [board.beside([at_point(point)], 40, 14) for point in points]
    for i, one in enumerate(placed):
        assert not any(one.meets(other, 0) for other in placed[:i])


@pytest.mark.parametrize(
    ("start", "end", "touches"),
    [
        ((0, 0), (10, 10), True),
        ((0, 5), (3, 5), False),
        ((4.5, 4.5), (5, 5), True),
        ((0, 10), (10, 10), False),
        ((5, 0), (5, 20), True),
        ((0, 7), (7, 14), False),
    ],
)
def test_a_line_touches_a_box(
    start: tuple[float, float], end: tuple[float, float], touches: bool
) -> None:
    """A line is held against a box whole, however it runs."""
    assert crosses(start, end, Box(4, 4, 6, 6)) is touches


def test_lines_that_only_touch_do_not_cross() -> None:
    """Two lines cross where each has the other's ends on both sides."""
    assert cut(((0, 0), (4, 4)), ((0, 4), (4, 0)))
    assert not cut(((0, 0), (4, 4)), ((4, 4), (8, 0)))
    assert not cut(((0, 0), (4, 0)), ((2, 0), (2, 4)))


def test_round_distances() -> None:
    """Distances are marked in feet or metres, few enough to be read."""
    inch = distance_ticks(20 * NM_PER_FOOT, Units.INCH)
    assert [tick.label for tick in inch] == ["0", "5 ft", "10 ft", "15 ft", "20 ft"]
    short = distance_ticks(10 * NM_PER_INCH, Units.INCH)
    assert [tick.label for tick in short] == ["0", "2 in", "4 in", "6 in", "8 in", "10 in"]
    metric = distance_ticks(2500 * NM_PER_MM, Units.METRIC)
    assert [tick.label for tick in metric] == [
        "0", "0.5 m", "1 m", "1.5 m", "2 m", "2.5 m",
    ]  # fmt: skip


def test_round_levels() -> None:
    """Levels are marked as tapes and gauges are, in the readings' own units."""
    low, high = 2 * NM_PER_INCH, 3 * NM_PER_INCH
    tape = level_ticks(low, high, Dimension.LENGTH, Units.INCH)
    assert [t.label for t in tape] == ["2 in", "2 1/4 in", "2 1/2 in", "2 3/4 in", "3 in"]
    warm = level_ticks(Fraction(10), Fraction(30), Dimension.TEMPERATURE, Units.INCH)
    assert [t.label for t in warm] == ["50 degF", "60 degF", "70 degF", "80 degF"]
    assert [t.amount for t in level_ticks(0, 3, Dimension.COUNT, Units.INCH)] == [0, 1, 2, 3]


def test_a_scale_is_even() -> None:
    """Amounts lie on a scale in proportion, upward or downward, beyond its ends too."""
    scale = Scale(10, 20, 100.0, 0.0)
    assert [scale.at(amount) for amount in (10, 15, 20, 25)] == [100, 50, 0, -50]


LIMITS: tuple[tuple[Any, tuple[tuple[int | None, int | None], ...] | None], ...] = (
    ({"at_least": "3 in"}, ((3, None),)),
    ({"at_most": "3 in"}, ((None, 3),)),
    ({"between": ["2 in", "3 in"]}, ((2, 3),)),
    ({"equal_to": "3 in", "within": "1 in"}, ((2, 4),)),
    ({"one_of": ["2 in", "4 in"]}, ((2, 2), (4, 4))),
    ({"none_of": ["2 in"]}, None),
    ({"not": {"at_most": "3 in"}}, ((3, None),)),
    ({"not": {"between": ["2 in", "3 in"]}}, ((None, 2), (3, None))),
    ({"all_of": [{"at_least": "2 in"}, {"at_most": "3 in"}]}, ((2, 3),)),
    ({"any_of": [{"at_most": "2 in"}, {"at_least": "3 in"}]}, ((None, 2), (3, None))),
    ({"any_of": [{"at_least": "2 in"}, {"between": ["1 in", "3 in"]}]}, ((1, None),)),
    ({"any_of": [{"at_least": "3 in"}, {"where": {"station.overdriven": "yes"}}]}, ((None, None),)),
    ({"any_of": [{"at_least": "3 in"}, {"where": {"station.overdriven": "no"}}]}, ((3, None),)),
    ({"any_of": [{"at_least": "3 in"}, {"where": {"station.through_deck": "no"}}]}, ((3, None),)),
    ({"all_of": [{"at_least": "3 in"}, {"where": {"station.through_deck": "no"}}]}, None),
    ({"at_least": "station.cap_exposure"}, ((8, None),)),
    ({"at_least": "station.penetration"}, None),
    (
        {
            "table": {
                "by": ["station.cap_exposure"],
                "rows": [
                    {"for": [{"at_most": "9 in"}], "limit": {"at_least": "2 in"}},
                    {"for": [{"at_least": "10 in"}], "limit": {"at_least": "4 in"}},
                ],
            }
        },
        ((2, None),),
    ),
    ({"nearest_of": {"to": "station.cap_exposure", "values": ["7 in", "12 in"]}}, ((7, 7),)),
)


@pytest.mark.parametrize(("limit", "ranges"), LIMITS, ids=lambda one: str(one)[:60])
def test_what_a_limit_accepts(
    limit: Any, ranges: tuple[tuple[int | None, int | None], ...] | None
) -> None:
    """Every kind of limit on a quantity is drawn as the ranges it accepts, or not at all."""
    station = {"at": "3 ft", "gap": "1 in", "overdriven": "yes", "cap_exposure": "8 in"}
    data = {"lines": {"H1": {"kind": "hip", "length": "9 ft", "stations": [station]}}}
    done = audit(data, rulebook(rule("gap", "station.gap", limit)))
    finding = next(f for f in done.findings if f.check and f.place.element is Element.STATION)
    assert finding.check is not None
    found = accepted(Setting(done.record, finding.place), finding.check.limit)
    wanted = None if ranges is None else tuple(Range(_nm(low), _nm(high)) for low, high in ranges)
    assert found == wanted


def _nm(inches: int | None) -> int | None:
    return None if inches is None else inches * NM_PER_INCH


def test_a_ring_holds_every_plane_apart() -> None:
    """Boxes in a ring never lie over each other, however many planes face one way."""
    planes = {f"P{n}": {"faces": "180 deg"} for n in range(30)} | {"Q": {}, "R": {}}
    done = audit({"planes": planes}, plan_of(SMALL_BOOK))
    layout = ring(done.record)
    boxes = [
        Box(
            min(x for edge in region.edges for x, _ in edge),
            min(y for edge in region.edges for _, y in edge),
            max(x for edge in region.edges for x, _ in edge),
            max(y for edge in region.edges for _, y in edge),
        )
        for region in layout.regions
    ]
    assert len(boxes) == 32
    for i, one in enumerate(boxes):
        assert not any(one.meets(other, 0) for other in boxes[:i])


# to scale, from coordinates

WEIR_END = "four-slopes/weir-end.yaml"
CORNERS: dict[str, tuple[tuple[float, float], tuple[float, float]]] = {
    # Runs of 15 ft on 6:12 rise 7 ft 6 in, which takes 11 ft 3 in on 8:12, 9 ft on 10:12 and
    # 7 ft 6 in on 12:12; with a ridge of 12 ft that makes eaves of 30 ft 9 in by 24 ft.
    "H1": ((30.75, 0), (19.5, 15)),
    "H2": ((30.75, 24), (19.5, 15)),
    "H3": ((0, 24), (7.5, 15)),
    "H4": ((0, 0), (7.5, 15)),
    "R1": ((7.5, 15), (19.5, 15)),
}


def _weir_end() -> dict[str, Any]:
    data: Any = copy.deepcopy(load_document(FIXTURES / WEIR_END).data)
    return data


def _to_scale(data: dict[str, Any], units: Units | None = None) -> Layout:
    layout = by_coordinates(audit(data, _small_plan()).record, units)
    assert layout is not None
    return layout


def _scale_bar(drawn: str) -> tuple[float, list[str]]:
    """Return how long a drawing's scale bar is, and the words at it."""
    (found,) = of_class(checked(drawn), "scale")
    path = next(e.attrib["d"] for e in found if e.tag == f"{SVG}path")
    xs = [float(x) for x in re.findall(r"[ML](\S+) ", path)]
    return max(xs) - min(xs), [e.text or "" for e in found if e.tag == f"{SVG}text"]


def _said(drawn: str) -> str:
    """Return all that a drawing says, on one line."""
    return " ".join(e.text or "" for e in checked(drawn).iter(f"{SVG}text"))


def test_lines_lie_where_their_coordinates_say() -> None:
    """Each end lies as many feet east and north of the corner as the record has it."""
    layout = _to_scale(_weir_end())
    assert layout.is_to_scale
    assert layout.per_foot == pytest.approx(326 / 30.75), "as wide as the field"
    (left, foot) = layout.courses["H4"][0]
    for line, points in CORNERS.items():
        feet = [
            ((x - left) / layout.per_foot, (foot - y) / layout.per_foot)
            for x, y in layout.courses[line]
        ]
        assert feet == [pytest.approx(point) for point in points]
        assert set(_ends(layout, line)) == set(layout.courses[line])
    assert layout.north == (0.0, -1.0)
    assert len(layout.unrecorded) == 4, "the eaves"
    assert layout.lone_lines == layout.lone_planes == ()


def test_a_plan_to_scale_says_so_and_has_a_scale_bar() -> None:
    """The bar of 10 ft is 10/12 of the ridge of 12 ft; in metres one of 2 m is 2 m long."""
    done = audited(WEIR_END)
    drawn = roof_plan(done, viewed(done))
    (x0, _), (x1, _) = _to_scale(_weir_end()).courses["R1"]
    long, said = _scale_bar(drawn)
    assert said == ["0", "5", "10 ft", "to scale"]
    assert long == pytest.approx((x1 - x0) * 10 / 12, abs=0.02)
    long, said = _scale_bar(roof_plan(done, viewed(done, units=Units.METRIC)))
    assert said == ["0", "1", "2 m", "to scale"]
    assert long == pytest.approx((x1 - x0) / 12 * 2 / 0.3048, abs=0.02)
    assert "Drawn to scale from the coordinates" in _said(drawn)
    assert "not to scale" not in drawn
    assert ">North<" in drawn


@pytest.mark.parametrize("name", [name for name in ROOFS if name != WEIR_END])
def test_a_plan_without_coordinates_has_no_scale(name: str) -> None:
    """A roof without coordinates is said not to be to scale, and has no scale bar."""
    done = audited(name)
    drawn = roof_plan(done, viewed(done))
    assert by_coordinates(done.record) is None
    assert of_class(checked(drawn), "scale") == []
    assert "not to scale" in drawn


def test_coordinates_change_no_verdict() -> None:
    """A roof has the same findings with its coordinates, without them, and with wrong ones."""
    plan = plan_for([(PRACTICE, Location("test"))], Shelf())
    bare, askew = _weir_end(), _weir_end()
    for line in CORNERS:
        del bare["lines"][line]["plan"]
        askew["lines"][line]["plan"] = [["0 m", "0 m"], ["-900 m", "1 mm"]]
    told = [
        [
            (f.rule, f.place, f.outcome, f.measured, f.reason)
            for f in viewed(audit(data, plan)).findings
        ]
        for data in (_weir_end(), bare, askew)
    ]
    assert told[0] == told[1] == told[2]
    assert len(told[0]) > 100


def test_a_disagreeing_direction_is_told_and_not_corrected() -> None:
    """A plane stated to face another way is named, north is not marked, and no line moves."""
    data = _weir_end()
    data["planes"]["S"]["faces"] = "90 deg"
    done = audit(data, _small_plan())
    said = _said(drawn := roof_plan(done, viewed(done)))
    assert "Plane S is stated to face 90 deg, and its coordinates have it face 180 deg." in said
    assert "North is not marked, as stated directions and coordinates disagree:" in said
    assert "Plane N" not in said
    assert ">North<" not in drawn
    assert _to_scale(data).courses == _to_scale(_weir_end()).courses
    data["planes"]["S"]["faces"] = "172 deg"  # a compass may be so much off
    done = audit(data, _small_plan())
    assert "disagree" not in _said(roof_plan(done, viewed(done)))


def test_a_roof_turned_about_is_told_plane_by_plane() -> None:
    """With east and north swapped each plane that a ridge or eave tells of is named."""
    data = _weir_end()
    for line in CORNERS:
        data["lines"][line]["plan"] = [[north, east] for east, north in data["lines"][line]["plan"]]
    notes = _to_scale(data).notes
    assert "Plane S is stated to face 180 deg, and its coordinates have it face 270 deg." in notes
    assert "Plane N is stated to face 0 deg, and its coordinates have it face 90 deg." in notes


def test_a_hip_that_runs_otherwise_than_its_planes_have_it_is_told() -> None:
    """A hip between 8:12 to the east and to the north runs at 45 deg; one of 70 is told."""
    lines: Kinds = {"H1": ("hip", ["E", "N"], "20 ft")}
    data = _roof({"E": 90, "N": 0}, lines)
    data["lines"]["H1"]["plan"] = [["0 ft", "0 ft"], ["-16 ft", "-16 ft"]]
    assert not any("runs at" in note for note in _to_scale(data).notes)
    data["lines"]["H1"]["plan"] = [["0 ft", "0 ft"], ["-16 ft", "-5.824 ft"]]
    assert any(
        note.startswith("Hip H1 runs at 70 deg by its coordinates, and at 45 deg by the directions")
        for note in _to_scale(data).notes
    )


def test_planes_on_the_wrong_sides_of_a_hip_are_told() -> None:
    """Two hips that meet with the planes between them the wrong way round are told of."""
    lines: Kinds = {"H1": ("hip", ["E", "N"], ""), "H2": ("hip", ["N", "W"], "")}
    data = _roof({"E": 90, "N": 0, "W": 270}, lines)
    data["lines"]["H1"] |= {"length": None, "plan": [["20 ft", "20 ft"], ["10 ft", "10 ft"]]}
    data["lines"]["H2"] |= {"length": None, "plan": [["0 ft", "20 ft"], ["10 ft", "10 ft"]]}
    assert not any("other side" in note for note in _to_scale(data).notes)
    for line in ("H1", "H2"):
        data["lines"][line]["plan"] = [
            [east, f"{20 - int(north.split()[0])} ft"]
            for east, north in data["lines"][line]["plan"]
        ]
        data["lines"][line]["plan"] = [
            [f"{20 - int(east.split()[0])} ft", north]
            for east, north in data["lines"][line]["plan"]
        ]
    assert any("has plane N on its other side" in note for note in _to_scale(data).notes)


def test_a_length_that_contradicts_the_coordinates_is_told() -> None:
    """A slope counts: a hip 18 ft 9 in long in plan is 20 ft 2 3/8 in along itself.

    In plan it runs 11 ft 3 in by 15 ft and it rises 7 ft 6 in: Pythagoras.
    """
    assert not any("long in plan" in note for note in _to_scale(_weir_end()).notes)
    data = _weir_end()
    data["lines"]["H1"]["length"] = "18 ft 9 in"
    data["lines"]["R1"]["length"] = "13 ft"
    notes = _to_scale(data).notes
    assert (
        "Hip H1 is 18 ft 9 in long in plan by its coordinates, and 17 ft 5 in by its length of "
        "18 ft 9 in and its slope."
    ) in notes
    assert (
        "Ridge R1 is 12 ft long in plan by its coordinates, and 13 ft by its recorded length."
        in notes
    )
    data["lines"]["R1"]["length"] = "12 ft 6 in"  # 4 % of it
    assert not any(note.startswith("Ridge R1") for note in _to_scale(data).notes)


def _one_line(**line: Any) -> dict[str, Any]:
    stations = [{"at": "6 ft", "gap": "1 in"}, {"at": "18 ft", "gap": "1 in"}]
    return {
        "planes": {"S": {}, "N": {}},
        "lines": {"R1": {"kind": "ridge", "between": ["S", "N"], "stations": stations, **line}},
    }


BENT = [["0 ft", "0 ft"], ["12 ft", "0 ft"], ["12 ft", "12 ft"]]


@pytest.mark.parametrize("points", [BENT, BENT[::-1]])
@pytest.mark.parametrize("more", [{"length": "24 ft"}, {}])
def test_stations_count_from_the_first_point_round_every_bend(
    points: list[list[str]], more: dict[str, str]
) -> None:
    """6 ft and 18 ft along two runs of 12 ft each lie in the middle of the first and the second."""
    data = _one_line(plan=points, **more)
    done = audit(data, rulebook(rule("gap", "station.gap", {"at_least": "3 in"})))
    layout = by_coordinates(done.record)
    assert layout is not None
    first, bend, last = layout.courses["R1"]
    spots = spots_of(numbered(done, viewed(done)), done.record, layout)
    points_ = [spot.point for spot in spots.drawn if spot.kind == "station"]
    assert points_ == [pytest.approx(_halfway(first, bend)), pytest.approx(_halfway(bend, last))]


def _halfway(a: tuple[float, float], b: tuple[float, float]) -> tuple[float, float]:
    return (a[0] + b[0]) / 2, (a[1] + b[1]) / 2


def test_a_from_that_names_the_other_end_is_told() -> None:
    """Stations count from the first point; a `from:` that names the other end is told."""
    points = [["0 ft", "0 ft"], ["24 ft", "0 ft"]]
    told = [
        note
        for note in _to_scale(_one_line(plan=points, **{"from": "east end"})).notes
        if "`from`" in note
    ]
    assert len(told) == 1
    assert told[0].startswith(
        "Ridge R1: `from` names one end and the coordinates start at the other"
    )
    for named in ("west end", "chimney", ""):
        layout = _to_scale(_one_line(plan=points, **{"from": named}))
        assert not any("`from`" in note for note in layout.notes)


def test_lines_without_coordinates_are_listed_as_not_drawn() -> None:
    """Beside lines with coordinates, those without stand under the drawing with their findings."""
    data = _weir_end()
    del data["lines"]["H2"]["plan"]
    plan = plan_for([(PRACTICE, Location("test"))], Shelf())
    done = audit(data, plan)
    view = viewed(done)
    root = checked(drawn := roof_plan(done, view))
    assert_linked(done, view, root)
    assert "Lines not drawn, without coordinates: H2" in _said(drawn)
    assert "Not drawn, without coordinates: H2." in (root[1].text or "")
    layout = _to_scale(data)
    assert layout.lone_lines == ("H2",)
    assert "H2" not in {piece.line for piece in layout.pieces}


def test_a_plane_is_named_inside_its_lines_or_beside_them() -> None:
    """A name stands within the lines of its plane; where they enclose nothing, beside them."""
    closed = _to_scale(_weir_end())
    assert not any("enclose" in note for note in closed.notes)
    middles = {region.plane: heart(region) for region in closed.regions}
    (ridge, _), (_, foot) = closed.courses["R1"][0], closed.courses["H4"][0]
    assert ridge < middles["S"][0]
    assert closed.courses["R1"][0][1] < middles["S"][1] < foot
    data = _weir_end()
    for line in ("H1", "H2", "H3", "H4"):
        del data["lines"][line]["plan"]
    bare = _to_scale(data)
    assert (
        "The lines drawn of planes S, N do not enclose them: their names stand beside the lines."
        in bare.notes
    )
    level = bare.courses["R1"][0][1]
    tops = {region.plane: heart(region)[1] for region in bare.regions}
    assert tops["N"] < level < tops["S"], "north of the ridge and south of it"
    assert bare.lone_planes == ("E", "W")


def test_a_wing_that_meets_an_eave_encloses_its_planes() -> None:
    """Valleys that end in the middle of an eave leave its plane enclosed, their triangle out."""
    lines: Kinds = {
        "E1": ("eave", ["S"], ""), "R1": ("ridge", ["S", "N"], ""),
        "K1": ("rake", ["S"], ""), "K2": ("rake", ["S"], ""),
        "V1": ("valley", ["S", "A"], ""), "V2": ("valley", ["S", "B"], ""),
    }  # fmt: skip
    data = _roof({"S": 180, "N": 0, "A": 90, "B": 270}, lines)
    ends = {
        "E1": (0, 0, 60, 0), "R1": (0, 30, 60, 30), "K1": (0, 0, 0, 30), "K2": (60, 0, 60, 30),
        "V1": (45, 0, 30, 15), "V2": (15, 0, 30, 15),
    }  # fmt: skip
    for line, (x0, y0, x1, y1) in ends.items():
        del data["lines"][line]["length"]
        data["lines"][line]["plan"] = [[f"{x0} ft", f"{y0} ft"], [f"{x1} ft", f"{y1} ft"]]
    layout = _to_scale(data)
    region = next(region for region in layout.regions if region.plane == "S")
    assert region.at is None
    x, _ = heart(region)
    assert not layout.courses["V2"][0][0] < x < layout.courses["V1"][0][0]


def test_corners_measured_twice_are_one_joint() -> None:
    """Two hips whose ends lie an inch apart, and no more, meet in one joint between them."""
    lines: Kinds = {"H1": ("hip", ["S", "E"], "20 ft"), "H2": ("hip", ["E", "N"], "20 ft")}
    data = _roof({"S": 180, "E": 90, "N": 0}, lines, joints={"J1": {"lines": ["H1", "H2"]}})
    data["lines"]["H1"]["plan"] = [["30 ft", "0 ft"], ["15 ft", "15 ft"]]
    data["lines"]["H2"]["plan"] = [["30 ft", "30 ft"], ["15 ft", "15 ft 1 in"]]
    done = audit(data, rulebook(rule("dry", "joint.dry_fitted", {"equal_to": "yes"})))
    layout = by_coordinates(done.record)
    assert layout is not None
    (spot,) = spots_of(numbered(done, viewed(done)), done.record, layout).drawn
    assert spot.point == pytest.approx(_halfway(layout.courses["H1"][1], layout.courses["H2"][1]))


_FEET = st.integers(-40, 40).map(lambda feet: f"{feet} ft")


@settings(max_examples=60, deadline=None)
@given(
    st.lists(
        st.lists(st.tuples(_FEET, _FEET).map(list), min_size=2, max_size=3, unique_by=tuple),
        min_size=1,
        max_size=5,
    )
)
def test_any_coordinates_make_a_well_formed_plan(drawn: list[list[list[str]]]) -> None:
    """Whatever points lines have, the plan is well formed and links each finding once."""
    data = _weir_end()
    for line in CORNERS:
        del data["lines"][line]["plan"]
    for line, points in zip(CORNERS, drawn, strict=False):
        data["lines"][line]["plan"] = points
    done = audit(data, _small_plan())
    view = viewed(done)
    assert_linked(done, view, checked(roof_plan(done, view)))


def test_a_roof_of_any_size_is_drawn_to_scale() -> None:
    """A line of 1 mm and one of 900,000 km fill the field, each with a scale bar of its own."""
    for east, north in (("1 mm", "0 mm"), ("900000000 m", "0 m"), ("0 ft", "7 ft")):
        done = audit(_one_line(plan=[["0 ft", "0 ft"], [east, north]]), _small_plan())
        long, said = _scale_bar(roof_plan(done, viewed(done)))
        assert 45 < long <= 130.01
        assert said[0] == "0"

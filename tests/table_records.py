"""Records for tests of tables: drawn at random from the whole vocabulary, with hostile words.

No reading here was taken on a roof.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from hypothesis import strategies as st

from ridgerule.cli.export_table import named_in, vocabulary_for
from ridgerule.cli.inputs import Asked
from ridgerule.facts import SECTIONS, Element, Host, How, Plain, out_of_range, read_value
from ridgerule.misreadings import Mistake
from ridgerule.plain_data import CONTROLS
from ridgerule.quantities import Dimension
from ridgerule.vocabulary import VOCABULARY
from roofs import faulty_roof, sound_roof

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    from ridgerule.documents import Document
    from ridgerule.facts import Fact, Vocabulary

    Draw = Callable[[st.SearchStrategy[Any]], Any]

# What a spreadsheet, a table or YAML could take for something else than words.
PIECES = (
    "=1+1", "'", "+", "-15 degF", "@x", "\t", "\n", ",", ";", '"', "#", " #1", ": ", "- ", "{", "}",
    "[", "]", "|", ">", "%", "&a", "*b", "!", "~", "null", "true", "yes", "007", "12", "1e5",
    "2026-03-02", "7:12", "3/8", "é", "½", "≈", "🏠", "\N{FULLWIDTH EQUALS SIGN}", "<b>", "_x000D_",
    "unknown", "(none)", "wavers here", "sep=;", "\\", "\u00a0",
)  # fmt: skip
WORDS = st.one_of(
    st.sampled_from(("left of the valley", "wavers, then straight", "dry; calm")),
    st.lists(st.sampled_from(PIECES), min_size=1, max_size=4).map("".join),
    st.text(max_size=12),
).filter(lambda text: text.strip() and not CONTROLS.search(text))
UNKNOWN = st.sampled_from(("unknown", "can't reach", "Unknown"))
AMOUNTS: dict[Dimension, tuple[str, ...]] = {
    Dimension.LENGTH: ("3 1/16 in", '3-1/16"', "78 mm", "2.5 in", "0 in", "1/64 in", "½ in"),
    Dimension.AREA: ("120 ft2", "1,200 in2", "11.5 m2"),
    Dimension.SLOPE: ("7:12", "30 deg", "58 %", "7 in 12"),
    Dimension.ANGLE: ("120 deg", "133.5°"),
    Dimension.TEMPERATURE: ("-15 degF", "18 degC", "68 degF"),
    Dimension.COUNT: ("0", "2", "1,200"),
    Dimension.SHARE: ("5 %", "1/150", "1:300"),
    Dimension.EXPANSION: ("80 um/m/degC", "45 ppm/degF"),
    Dimension.NET_FREE_AREA_PER_LENGTH: ("18 in2/ft", "380 cm2/m"),
}
IDS = ("S", "E", "N", "W", "A.1", "north wing", "9", "in")
INSTRUMENTS = ("tape", "angle finder", "=caliper", "Tape 2: short")


def vocabulary_of(document: Document, folder: Path) -> Vocabulary:
    """Return the facts that a record is read with, as the commands for tables find them."""
    return vocabulary_for(Asked(), folder, named_in(document))


def amounts(fact: Fact) -> st.SearchStrategy[Any]:
    """Return values that a fact can have, as a record writes them."""
    match fact.dimension:
        case Plain.YES_NO:
            return st.sampled_from(("yes", "no", True, False))
        case Plain.CHOICE:
            return st.sampled_from(fact.choices)
        case Plain.DATE:
            return st.sampled_from(("2026-03-02", "1999-12-31"))
        case Plain.TEXT:
            return WORDS
        case Dimension.COUNT:
            return st.one_of(st.integers(0, 500), st.sampled_from(AMOUNTS[Dimension.COUNT]))
        case dimension:
            return st.sampled_from(
                [text for text in AMOUNTS[dimension] if _is_possible(text, fact)]
            )


def _is_possible(text: str, fact: Fact) -> bool:
    """Tell whether a fact's range has an amount."""
    value = read_value(text, fact)
    return not isinstance(value, Mistake) and out_of_range(value, fact) is None


PHOTOS = st.recursive(
    st.one_of(
        st.sampled_from(("photos/h1.jpg", "a b.jpg", "a;b.jpg", "[x].jpg", "=x.png", " y.jpg")),
        st.fixed_dictionaries({"file": st.just("z.jpg"), "sha256": st.just("0" * 64)}),
    ),
    lambda inner: st.lists(inner, min_size=1, max_size=3),
    max_leaves=3,
)


@st.composite
def readings(draw: Draw, fact: Fact) -> Any:
    """Return a reading of a fact: a value alone, or the long form with some of its parts."""
    value = draw(
        st.one_of(amounts(fact), UNKNOWN, st.none()) if draw(st.booleans()) else amounts(fact)
    )
    if draw(st.integers(0, 2)):
        return value
    parts = {
        "value": st.just(value),
        "how": st.sampled_from([how for how in How if how is not How.STATED]),
        "with": st.sampled_from((*INSTRUMENTS, "string line")),
        "by": WORDS,
        "when": st.sampled_from(("2026-09-14", "first visit")),
        "repeats": st.lists(amounts(fact).filter(lambda v: not isinstance(v, bool)), max_size=3),
        "photo": PHOTOS,
        "note": WORDS,
    }
    kept = draw(st.lists(st.sampled_from([*parts]), min_size=1, unique=True))
    return {part: draw(parts[part]) for part in parts if part in kept}


@st.composite
def facts_of(draw: Draw, element: Element, sides: tuple[str, ...] = (), host: str = "") -> Any:
    """Return some facts of an element, each with a reading, those per side on some of `sides`."""
    known = [
        fact
        for fact in VOCABULARY.by_element[element].values()
        if not fact.section
        and fact.derivation is None
        and (fact.host is Host.EITHER or not host or fact.host.value == host)
        and fact.full_name != "line.kind"
    ]
    data = {}
    for fact in draw(st.lists(st.sampled_from(known), max_size=5, unique=True)):
        if fact.per_side:
            chosen = (
                draw(st.lists(st.sampled_from(sides), max_size=2, unique=True)) if sides else []
            )
            by_side = {side: draw(readings(fact)) for side in chosen}
            data[fact.name] = by_side or draw(UNKNOWN)
        else:
            data[fact.name] = draw(readings(fact))
    if draw(st.booleans()):
        data["note"] = draw(WORDS)
    if draw(st.booleans()):
        data["photo"] = draw(PHOTOS)
    return data


@st.composite
def stations(draw: Draw, host: str, sides: tuple[str, ...]) -> list[dict[str, Any]]:
    """Return some stations of a line or a plane, two of them perhaps at one place."""
    on_lines = ("2 ft", "24 in", "0.6 m", "unknown", "can't reach")
    on_planes = ("third course, left", "Third course, LEFT", "=ridge", "5", "unknown")
    where = st.sampled_from(on_lines if host == "line" else on_planes)
    found = []
    for _ in range(draw(st.integers(0, 3))):
        facts = draw(facts_of(Element.STATION, sides, host))
        station = {"at": draw(where), **facts} if draw(st.integers(0, 4)) else facts
        if draw(st.booleans()):
            station["only"] = [key for key in facts if key not in ("note", "photo")]
        found.append(station)
    return found


@st.composite
def places(draw: Draw, element: Element, planes: tuple[str, ...], lines: tuple[str, ...]) -> Any:
    """Return a place other than a plane or line, with the planes and lines it touches."""
    data = draw(facts_of(element))
    some_planes = st.lists(st.sampled_from(planes), max_size=2, unique=True)
    some_lines = st.lists(st.sampled_from(lines), max_size=2, unique=True) if lines else st.just([])
    keys = {
        Element.JOINT: {"lines": some_lines},
        Element.OPENING: {"plane": st.sampled_from((*planes, "unknown"))},
        Element.WALL: {"plane": st.sampled_from(planes)},
        Element.ATTIC: {"planes": some_planes, "lines": some_lines},
        Element.DELIVERY: {"lines": some_lines},
        Element.SAMPLE: {"plane": st.sampled_from(planes)},
    }[element]
    if draw(st.booleans()):
        data["name"] = draw(WORDS)
    return {key: draw(value) for key, value in keys.items()} | data or None


@st.composite
def records(draw: Draw) -> dict[str, Any]:
    """Return a record of any kind of roof, one of the small sound or faulty ones now and then."""
    if draw(st.integers(0, 4)) == 0:
        return draw(st.sampled_from((sound_roof, faulty_roof)))(draw(st.integers(0, 60)))
    planes = tuple(draw(st.lists(st.sampled_from(IDS), min_size=1, max_size=3, unique=True)))
    lines = tuple(draw(st.lists(st.sampled_from(("H1", "9", "Ridge 2")), max_size=2, unique=True)))
    data: dict[str, Any] = {"record": 1}
    data["roof"] = {"id": draw(st.sampled_from(("R-1", 7, "=1"))), **draw(facts_of(Element.ROOF))}
    data |= draw(_kept_beside())
    if len(planes) > 1 and draw(st.booleans()):
        data.setdefault("complete", {})["apart"] = [list(planes[:2])]
    data["planes"] = {
        id_: {**draw(facts_of(Element.PLANE)), "stations": draw(stations("plane", ()))}
        for id_ in planes
    }
    if lines:
        data["lines"] = {id_: draw(_line(planes)) for id_ in lines}
    for element, section in SECTIONS.items():
        if element not in (Element.PLANE, Element.LINE) and draw(st.integers(0, 3)) == 0:
            data[section] = {
                id_: draw(places(element, planes, lines))
                for id_ in draw(st.lists(st.sampled_from(IDS), min_size=1, max_size=2, unique=True))
            }
    return data


@st.composite
def _line(draw: Draw, planes: tuple[str, ...]) -> dict[str, Any]:
    beside = tuple(draw(st.lists(st.sampled_from(planes), max_size=2, unique=True)))
    data = {
        "kind": draw(st.sampled_from(("hip", "ridge", "valley", "unknown"))),
        "name": draw(WORDS),
    }
    if beside:
        data["between"] = list(beside)
    if draw(st.booleans()):
        data |= {
            "from": draw(WORDS),
            "plan": [["0 ft", "0 ft"], ["1,200 mm", "12 ft 6 in"], [0, 1]],
        }
        data["plan"] = [*data["plan"][: 2 if draw(st.booleans()) else 1], ["9 ft", "4 ft"]]
    sides = beside or planes
    found = draw(stations("line", sides))
    return {**data, **draw(facts_of(Element.LINE, sides))} | ({"stations": found} if found else {})


@st.composite
def _kept_beside(draw: Draw) -> dict[str, Any]:
    """Return what a record keeps beside its roof: dates, the visit, instruments."""
    data: dict[str, Any] = {}
    for fact in VOCABULARY.by_element[Element.ROOF].values():
        if fact.section and draw(st.integers(0, 2)) == 0:
            data.setdefault(fact.section, {})[fact.key] = draw(readings(fact))
    if draw(st.booleans()):
        data.setdefault("inspection", {})["weather"] = draw(WORDS)
    if draw(st.booleans()):
        data["complete"] = {"hips": "unknown", "openings": draw(st.sampled_from(("all", None)))}
    if draw(st.booleans()):
        data["rulebooks"] = ["practice/hip-and-ridge@2026-11"]
    names = draw(st.lists(st.sampled_from(INSTRUMENTS), max_size=3, unique=True))
    if names:
        figure = {"graduation": "1/16 in", "expanded_uncertainty": "1 deg", "note": draw(WORDS)}
        data["instruments"] = {name: draw(st.sampled_from((figure, None))) for name in names}
    return data

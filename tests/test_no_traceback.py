"""Whatever a file holds, it is audited or its problems are told; nothing else comes out."""

from __future__ import annotations

import copy
import json
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest
from hypothesis import HealthCheck, example, given, settings
from hypothesis import strategies as st

from ridgerule.audit.findings import Outcome
from ridgerule.cli.inputs import Asked, Auditor
from ridgerule.documents import load_document
from ridgerule.facts import Element, Over, Plain
from ridgerule.plain_data import MOST_DEPTH, MOST_PROBLEMS, MOST_TEXT
from ridgerule.problems import InputRejected
from ridgerule.quantities import Dimension
from ridgerule.vocabulary import VOCABULARY

if TYPE_CHECKING:
    from collections.abc import Callable

    from ridgerule.audit.findings import Finding
    from ridgerule.facts import Fact
    from ridgerule.problems import Problem

    Draw = Callable[[st.SearchStrategy[Any]], Any]

BROKEN = Path(__file__).parent.parent / "fixtures" / "broken"
RECORD, RULEBOOK = BROKEN / "full-record.yaml", BROKEN / "full-rulebook@2026.yaml"
RECORD_DATA = load_document(RECORD).data
RULEBOOK_DATA = load_document(RULEBOOK).data
TEXTS = {file: file.read_text("utf-8") for file in (RECORD, RULEBOOK)}

steady = settings(
    max_examples=150,
    deadline=None,
    database=None,
    derandomize=True,
    suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large],
)

# What an author, an editor or a careless copy could leave in a text.
PIECES = st.sampled_from(
    [
        *":,-#'\"[]{}&*!|>%@`?<~\\\t\n",
        ": ", "- ", " #", "\r\n", "\n  ", "\n---\n", "\n...\n", "<<: ", "null", "yes", "0", "-1",
        "1e999", "3 in", "7:12", "٣", "é", "\x00", "\u2028", "\ufeff", "🏠", "{}", "[]", "''",
    ]
)  # fmt: skip

WORDS = (
    "", " ", "unknown", "can't reach", "yes", "no", "all", "none", "present", "absent", "S", "H1",
    "3 in", "-3 in", "3 1/0 in", "0 in", "30 deg", "7:12", "0:12", "58 %", "12 m2", "1e400 mm",
    "18 degC", "2026-02-30", "2026-05-04", "hip", "ridge", "plywood", "line.kind", "station.gap",
    "station.setback", "each plane.slope", "any line.kind", "count line.kind", "least plane.slope",
    "mean roof.air_temperature", "spread plane.deck", "each", ".", "roof.", "line", "plane", "roof",
    "station", "delivery", "at_least", "equal_to", "within", "not", "all_of", "table", "by", "for",
    "rows", "value", "how", "measured", "choice", "length", "text", "full-rulebook",
    "full-rulebook@2026", "good-rulebook@1", "good-rulebook#hip-gap", "hip-gap", "gap-even",
    "../x@1", "*@*", "made_up", "[bold]x[/bold]", "\u202e", "٣ in", "9" * 40 + " in", "9" * 400,
)  # fmt: skip
SCALARS = st.one_of(
    st.none(),
    st.booleans(),
    st.integers(-(10**20), 10**20),
    st.floats(allow_nan=False),
    st.sampled_from(WORDS),
    st.text(max_size=12),
)
KEYS = st.one_of(st.sampled_from(WORDS), st.text(max_size=6))
NODES = st.recursive(
    SCALARS,
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(KEYS, inner, max_size=3),
    max_leaves=6,
)


def _audited_or_told(record: Path, *, against: tuple[str, ...] = ()) -> None:
    """Audit a record; fail unless an audit or located problems come out."""
    asked = Asked(against=against, folders=(BROKEN,))
    problems: tuple[Problem, ...] = ()
    findings: tuple[Finding, ...] = ()
    try:
        findings = Auditor(asked).audit(record).findings
    except InputRejected as rejected:
        problems = rejected.problems
    assert findings or problems
    for problem in problems:
        assert problem.location.file
        assert problem.expected
        assert problem.found
        assert "\n" not in str(problem)


def _as_record(folder: Path, text: str | bytes, *, suffix: str = ".yaml") -> None:
    file = folder / f"record{suffix}"
    file.write_bytes(text if isinstance(text, bytes) else text.encode("utf-8", "surrogatepass"))
    _audited_or_told(file)


def _as_rulebook(folder: Path, text: str | bytes, *, suffix: str = ".yaml") -> None:
    file = folder / f"rulebook{suffix}"
    file.write_bytes(text if isinstance(text, bytes) else text.encode("utf-8", "surrogatepass"))
    _audited_or_told(RECORD, against=(str(file),))


READERS = {RECORD: _as_record, RULEBOOK: _as_rulebook}


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return a folder for the files of this module."""
    return tmp_path_factory.mktemp("files")


def test_the_files_that_are_broken_here_are_sound() -> None:
    """What the mutations start from is audited; else they would prove nothing."""
    for asked in (Asked(folders=(BROKEN,)), Asked(against=(str(RULEBOOK),))):
        assert Auditor(asked).audit(RECORD).outcome is Outcome.FAIL  # the gaps are uneven


@steady
@given(raw=st.binary(max_size=200) | st.text(max_size=200))
@pytest.mark.parametrize("file", [RECORD, RULEBOOK], ids=lambda file: file.stem)
@pytest.mark.parametrize("suffix", [".yaml", ".json"])
def test_any_text_is_told_of(folder: Path, file: Path, suffix: str, raw: bytes | str) -> None:
    """Bytes and texts of any kind come to problems."""
    READERS[file](folder, raw, suffix=suffix)


@st.composite
def edited(draw: Draw, text: str) -> str:
    """Return a text with a few places cut out, put in or doubled."""
    for _ in range(draw(st.sampled_from([1, 1, 2, 4]))):
        start = draw(st.integers(0, len(text)))
        end = min(len(text), start + draw(st.integers(0, 12)))
        middle = draw(st.one_of(st.just(""), PIECES, st.just(2 * text[start:end])))
        text = text[:start] + middle + text[end:]
    return text


@steady
@given(data=st.data())
@pytest.mark.parametrize("file", [RECORD, RULEBOOK], ids=lambda file: file.stem)
def test_slips_of_the_keyboard_are_told_of(folder: Path, file: Path, data: st.DataObject) -> None:
    """A good file with characters lost, added or doubled is audited or told of."""
    READERS[file](folder, data.draw(edited(TEXTS[file])))


def _ways(data: Any, way: tuple[Any, ...] = ()) -> list[tuple[Any, ...]]:
    """Return the way to every node but the root."""
    steps = data.items() if isinstance(data, dict) else enumerate(data)
    ways = []
    for step, inner in steps:
        ways.append((*way, step))
        if isinstance(inner, (dict, list)):
            ways.extend(_ways(inner, (*way, step)))
    return ways


def _at(data: Any, way: tuple[Any, ...]) -> Any:
    """Return the node that a way leads to."""
    for step in way:
        data = data[step]
    return data


def _mutated(draw: Draw, data: Any) -> Any:
    """Return data with one node dropped, doubled, renamed, retyped, replaced or swapped."""
    ways = _ways(data)
    if not ways:
        return draw(NODES)
    way = draw(st.sampled_from(ways))
    holder = _at(data, way[:-1])
    last, node = way[-1], holder[way[-1]]
    match draw(
        st.sampled_from(["drop", "double", "rename", "wrap", "replace", "word", "swap", "add"])
    ):
        case "drop":
            del holder[last]
        case "double" if isinstance(holder, list):
            holder.insert(last, copy.deepcopy(node))
        case "rename" | "double" if isinstance(holder, dict):
            others = st.sampled_from([w[-1] for w in ways if isinstance(w[-1], str)])
            holder[draw(KEYS | others)] = copy.deepcopy(node)
            del holder[last]
        case "wrap":
            holder[last] = draw(st.sampled_from([[node], {"value": node}, {draw(KEYS): node}]))
        case "swap":
            holder[last] = copy.deepcopy(_at(data, draw(st.sampled_from(ways))))
        case "word":
            holder[last] = draw(st.sampled_from(WORDS))
        case "add" if isinstance(node, dict):
            node[draw(KEYS)] = draw(NODES)
        case _:
            holder[last] = draw(NODES)
    return data


@settings(steady, max_examples=300)
@given(data=st.data())
@pytest.mark.parametrize("file", [RECORD, RULEBOOK], ids=lambda file: file.stem)
def test_wrong_nodes_are_told_of(folder: Path, file: Path, data: st.DataObject) -> None:
    """A good file whose nodes were dropped, doubled, renamed, retyped or swapped is told of."""
    mutated = copy.deepcopy(RECORD_DATA if file is RECORD else RULEBOOK_DATA)
    for _ in range(data.draw(st.sampled_from([1, 1, 1, 2, 3]))):
        mutated = _mutated(data.draw, mutated)
    READERS[file](folder, json.dumps(mutated), suffix=".json")


FACTS = st.sampled_from(VOCABULARY.facts)
FIGURES_OF = {
    Dimension.LENGTH: ["0 in", "2 1/2 in", "18 ft", "least station.gap", "greatest line.length"],
    Dimension.AREA: ["1 ft2", "400 in2", "mean line.vent_area"],
    Dimension.SLOPE: ["0:12", "7:12", "30 deg", "58 %", "greatest plane.slope"],
    Dimension.ANGLE: ["0 deg", "120 deg", "360 deg", "least plane.faces"],
    Dimension.TEMPERATURE: ["18 degC", "0 degF", "roof.air_temperature"],
    Dimension.COUNT: [0, 2, "3", "count plane.slope", "least station.fasteners"],
    Dimension.SHARE: ["40 %", "1/150", "roof.cap_waste"],
    Dimension.EXPANSION: ["80 ppm/degC", "roof.expansion_least"],
    Dimension.NET_FREE_AREA_PER_LENGTH: ["18 in2/ft", "least line.vent_per_length"],
    Plain.DATE: ["2026-05-04", "roof.permit_date"],
    Plain.YES_NO: ["present", "absent", "yes", False],
    Plain.TEXT: ["Tarn County", "roof.place", 3],
}


def _named(draw: Draw) -> tuple[Fact, str, Element]:
    """Return a fact, as a rulebook may name it, and an element to ask it at."""
    fact = draw(FACTS)
    if draw(st.integers(0, 9)) == 0:
        return (
            fact,
            f"{draw(st.sampled_from(Over))} {fact.full_name}",
            draw(st.sampled_from(Element)),
        )
    if fact.per_side:
        return (
            fact,
            f"{draw(st.sampled_from(['each', 'any', 'least']))} {fact.full_name}",
            fact.element,
        )
    if fact.element is not Element.ROOF and draw(st.booleans()):
        return (
            fact,
            f"{draw(st.sampled_from(['each', 'any', 'count']))} {fact.full_name}",
            Element.ROOF,
        )
    return fact, fact.full_name, fact.element


def _limits(fact: Fact, name: str) -> st.SearchStrategy[Any]:
    """Return limits for a fact, most of them fitting ones."""
    fitting = st.sampled_from(list(fact.choices) or FIGURES_OF[fact.dimension])  # type: ignore[index]
    if name.startswith("count "):
        fitting = st.sampled_from(FIGURES_OF[Dimension.COUNT])
    figures = st.integers(0, 15).flatmap(lambda i: fitting if i else st.sampled_from(WORDS))
    listed = st.lists(figures, min_size=1, max_size=3)
    pair = st.lists(figures, min_size=2, max_size=2)
    near = st.fixed_dictionaries({"to": figures, "values": listed})
    leaves = st.one_of(
        figures,
        *(st.fixed_dictionaries({word: figures}) for word in ("at_least", "at_most", "equal_to")),
        st.fixed_dictionaries(
            {"equal_to": figures, "within": st.sampled_from(["1/8 in", "2 deg"])}
        ),
        st.fixed_dictionaries({"same_as": figures}),
        st.fixed_dictionaries({"between": pair}),
        *(st.fixed_dictionaries({word: listed}) for word in ("one_of", "none_of")),
        st.fixed_dictionaries({"nearest_of": near}),
    )
    return st.recursive(leaves, _nested, max_leaves=3)


def _nested(inner: st.SearchStrategy[Any]) -> st.SearchStrategy[Any]:
    row = st.fixed_dictionaries({"for": st.just("hip"), "limit": inner})
    other = st.fixed_dictionaries({"for": st.just({"none_of": ["hip"]}), "limit": inner})
    rows = st.tuples(row, other) | st.tuples(row)
    table = st.fixed_dictionaries({"by": st.just("line.kind"), "rows": rows})
    some = st.lists(inner, min_size=1, max_size=3)
    return st.one_of(
        st.fixed_dictionaries({"not": inner}),
        *(st.fixed_dictionaries({word: some}) for word in ("all_of", "any_of")),
        st.fixed_dictionaries({"table": table}),
    )


@st.composite
def rules(draw: Draw) -> dict[str, Any]:
    """Return a rule that names real facts; many compile."""
    fact, name, element = _named(draw)
    limits = _limits(fact, name)
    rule = {
        "id": "made",
        "title": "made",
        "of": name,
        "at": element,
        "limit": draw(limits),
        "class": "minor",
        "why": "made",
        "remedy": "made",
        "source": "made_up",
    }
    if draw(st.booleans()):
        of, other, _ = _named(draw)
        near = f"least {of.full_name}" if isinstance(of.dimension, Dimension) else other
        key = name if draw(st.booleans()) else near
        rule["when"] = {key: draw(limits if key == name else _limits(of, key))}
    if draw(st.booleans()):
        rule["aim"] = draw(limits)
    if element is Element.STATION and draw(st.booleans()):
        rule["stations"] = {"at_least": 2}
    if draw(st.booleans()):
        rule["evidence"] = {"how": ["seen", "measured"], "photo": True}
    if draw(st.booleans()):
        rule["cases"] = [{"given": {fact.full_name: "unknown"}, "expect": "not verified"}]
    return rule


@settings(steady, max_examples=250)
@given(rule=rules())
def test_rules_of_known_words_are_judged_or_told_of(folder: Path, rule: dict[str, Any]) -> None:
    """Rules that name real facts in any combination compile and are judged, or are told of."""
    book = copy.deepcopy(RULEBOOK_DATA)
    book["rules"] = [rule]
    del book["coverages"]
    _as_rulebook(folder, json.dumps(book), suffix=".json")


@settings(steady, max_examples=40)
@given(depth=st.integers(1, 3 * MOST_DEPTH), kind=st.sampled_from(["[]", "{}"]))
@example(depth=20_000, kind="[]")
@example(depth=20_000, kind="{}")
@pytest.mark.parametrize("file", [RECORD, RULEBOOK], ids=lambda file: file.stem)
@pytest.mark.parametrize("suffix", [".yaml", ".json"])
def test_deep_nesting_is_told_of(
    folder: Path, file: Path, suffix: str, depth: int, kind: str
) -> None:
    """Lists and mappings of any depth come to problems, never to the end of the stack."""
    opening, closing = ("[", "]") if kind == "[]" else ('{"not": ', "}")
    READERS[file](folder, opening * depth + closing * depth, suffix=suffix)


@pytest.mark.parametrize("depth", [5, 20, MOST_DEPTH - 8])
@pytest.mark.parametrize("key", ["when", "limit", "aim", "scope"])
def test_deep_conditions_are_told_of(folder: Path, key: str, depth: int) -> None:
    """A limit or condition nested as deep as reading allows is compiled and judged."""
    book = copy.deepcopy(RULEBOOK_DATA)
    inner: Any = {"line.kind": "hip"} if key == "when" else {"at_least": "3 in"}
    for _ in range(depth):
        inner = {"not": inner}
    book["rules"][0][key] = {"covering": inner} if key == "scope" else inner
    _as_rulebook(folder, json.dumps(book), suffix=".json")


@pytest.mark.parametrize("file", [RECORD, RULEBOOK], ids=lambda file: file.stem)
@pytest.mark.parametrize(
    "huge",
    [
        "x" * (MOST_TEXT + 1),
        "9" * MOST_TEXT,
        " " * MOST_TEXT,
        "[" * MOST_TEXT,
        "a b " * (MOST_TEXT // 8),
        "3 in," * (MOST_TEXT // 8),
        "9/" * (MOST_TEXT // 4),
    ],
    ids=["too long", "digits", "spaces", "brackets", "words", "readings", "fractions"],
)
def test_huge_texts_are_told_of(folder: Path, file: Path, huge: str) -> None:
    """A text far too long for any value, in place of each node in turn, is told of."""
    whole = RECORD_DATA if file is RECORD else RULEBOOK_DATA
    for way in _ways(whole)[:: 11 if file is RECORD else 23]:
        mutated: Any = copy.deepcopy(whole)
        _at(mutated, way[:-1])[way[-1]] = huge
        READERS[file](folder, json.dumps(mutated), suffix=".json")


def test_a_file_full_of_mistakes_is_told_of(folder: Path) -> None:
    """A file with a mistake on each of many lines is read no further than is of use."""
    file = folder / "record.yaml"
    file.write_text("record: 1\nroof: {id: X}\nplanes:\n" + "  S: &a {slope: 7:12}\n" * 2000)
    with pytest.raises(InputRejected) as rejected:
        Auditor(Asked(folders=(BROKEN,))).audit(file)
    assert len(rejected.value.problems) == MOST_PROBLEMS

"""Layering, as properties: order says nothing, every field knows its place, dates pick editions.

Every rulebook here is invented and no figure in it means anything.
"""

from __future__ import annotations

import copy
import datetime as dt
import json
import re
from collections import Counter
from itertools import pairwise
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest
import yaml
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from ridgerule.adapt import Adapted, adapt
from ridgerule.audit.findings import CONFLICT
from ridgerule.documents import load_document
from ridgerule.plain_data import items_in, mapping_in
from ridgerule.rulebook import CHANGEABLE
from ridgerule.shelf import SUFFIXES, Shelf
from ridgerule.shipped import shipped
from workshop import (
    all_listed,
    amendment,
    audit,
    findings,
    outcomes,
    plan,
    problems,
    rule,
    rulebook,
    shelf,
)

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    from ridgerule.audit.findings import Audit
    from ridgerule.documents import Data
    from ridgerule.problems import Location, Problem
    from ridgerule.rulebook import Field, Rule

    Draw = Callable[[st.SearchStrategy[Any]], Any]

steady = settings(max_examples=60, deadline=None, database=None, derandomize=True)
FEWEST_FIELDS = 6
"""What every rule says: `title`, `of`, `limit`, `class`, `why` and `remedy`."""
PERMIT = {"permitted_by": "order 9 (invented)"}


def laid(*texts: str) -> Adapted:
    """Return the first rulebook with its bases, from among the others, laid under it."""
    found = shelf(*texts)
    return adapt(found.given[0], found)


# what is drawn: rules, changes, chains of rulebooks

VALUES: dict[str, st.SearchStrategy[Any]] = {
    "title": st.sampled_from(["The strip is wide", "7:12", "on: site", "no # mark", "1"]),
    "why": st.sampled_from(["water", "it shows, from the ground", "x: y"]),
    "remedy": st.sampled_from(["lay it anew", "a\nb\n", "'quoted'", "- no list"]),
    "class": st.sampled_from(["critical", "major", "minor"]),
    "limit": st.integers(1, 40).map(lambda n: {"at_least": f"{n} in"}),
    "aim": st.integers(1, 40).map(lambda n: {"between": [f"{n} in", f"{n + 2} in"]}),
    "when": st.sampled_from(
        [
            {"line.kind": "hip"},
            {"all_of": [{"line.kind": {"one_of": ["hip", "ridge"]}}, {"line.vented": True}]},
        ]
    ),
    "scope": st.sampled_from([{"covering": "composite slate"}, {"covering": {"none_of": ["x"]}}]),
    "stations": st.integers(1, 9).map(lambda n: {"at_least": n}),
    "evidence": st.sampled_from([{"how": ["measured", "seen"]}, {"photo": True}]),
    "decision_rule": st.sampled_from(["simple acceptance", "guarded acceptance"]),
    "cases": st.integers(1, 9).map(
        lambda n: [{"given": {"line.length": [f"{n} in", "9 in"]}, "expect": "pass"}]
    ),
}
"""A value for every field that an amendment may replace."""


def test_every_changeable_field_is_drawn() -> None:
    """The draws below amend each field that may be amended, and no other."""
    assert VALUES.keys() == CHANGEABLE


@st.composite
def changed_fields(draw: Draw, *, least: int = 1) -> dict[str, Any]:
    """Return some fields with new values, in any order."""
    names = draw(st.lists(st.sampled_from(sorted(VALUES)), min_size=least, unique=True))
    return {name: copy.deepcopy(draw(VALUES[name])) for name in names}


class Chain:
    """Rulebooks, each based on the one before, and what their rules must come to."""

    def __init__(self) -> None:
        self.books: list[dict[str, Any]] = []
        self.fields: dict[str, dict[str, tuple[Any, str]]] = {}
        """By rule: each field's value, and the rulebook that wrote it last."""
        self.changed_by: dict[str, list[str]] = {}
        self.gone: set[str] = set()

    def add(self, book: dict[str, Any]) -> None:
        """Put a rulebook on top; note what it does."""
        id_ = f"t/layer-{len(self.books)}"
        data = {"rulebook": id_, "title": "Invented", "edition": "1"}
        data["based_on"] = [f"{self.books[-1]['rulebook']}@1"] if self.books else []
        self.books.append(data | {"sources": {"us": {"basis": "invented"}}} | book)
        for change in book["amendments"]:
            ours = {k: (v, id_) for k, v in change.items() if k in CHANGEABLE}
            self.fields[_full(change["rule"])] |= ours
        for change in (*book["amendments"], *book["withdrawals"]):
            self.changed_by[_full(change["rule"])].append(id_)
        self.gone |= {_full(change["rule"]) for change in book["withdrawals"]}
        for new in book["rules"]:
            full = f"{id_}#{new['id']}"
            self.fields[full] = {k: (v, id_) for k, v in new.items() if k not in ("id", "source")}
            self.changed_by[full] = []

    @property
    def standing(self) -> list[str]:
        """The rules that the next rulebook could change."""
        return [name for name in self.fields if name not in self.gone]


def _full(name: str) -> str:
    """Return a rule's full name; drawn ids say which layer they are of."""
    if "#" in name:
        return name
    return f"t/layer-{name.removeprefix('rule-').partition('-')[0]}#{name}"


@st.composite
def chains(draw: Draw) -> Chain:
    """Return a chain of two to four rulebooks that add, amend and withdraw."""
    chain = Chain()
    for layer in range(draw(st.integers(2, 4))):
        count = draw(st.integers(1, 4) if layer == 0 else st.integers(0, 2))
        new = [
            rule(f"rule-{layer}-{i}", "line.length", {"at_least": "1 in"})
            | draw(changed_fields(least=0))
            for i in range(count)
        ]
        standing = chain.standing
        hit = draw(st.lists(st.sampled_from(standing), unique=True)) if standing else []
        named = [name if draw(st.booleans()) else name.partition("#")[2] for name in hit]
        withdrawn = [name for name in named if draw(st.integers(0, 3)) == 0]
        chain.add(
            {
                "amendments": [
                    amendment(name, **draw(changed_fields()))
                    for name in named
                    if name not in withdrawn
                ],
                "withdrawals": [amendment(name, **PERMIT) for name in withdrawn],
                "rules": new,
            }
        )
    return chain


def as_yaml(data: dict[str, Any]) -> str:
    """Return data as block YAML; JSON first, so that nothing in it is shared and aliased."""
    plain = json.loads(json.dumps(data))
    return yaml.safe_dump(plain, sort_keys=False, allow_unicode=True, width=1000)


def as_json(data: dict[str, Any]) -> str:
    """Return data as JSON over several lines."""
    return json.dumps(data, indent=2, ensure_ascii=False)


WRITERS = {".yaml": as_yaml, ".json": as_json, ".yml": json.dumps}


def written(folder: Path, chain: Chain, suffixes: list[str]) -> Adapted:
    """Write a chain's rulebooks to files; return the topmost on its bases."""
    files = []
    for i, (data, suffix) in enumerate(zip(chain.books, suffixes, strict=False)):
        file = folder / f"book-{i}{suffix}"
        file.write_text(WRITERS[suffix](data), encoding="utf-8")
        files.append(file)
    found = Shelf(files=tuple(files))
    return adapt(found.given[-1], found)


# provenance


class Reread:
    """Files read anew, asked what stands at a place."""

    def __init__(self, find: Callable[[str], Path]) -> None:
        self._find = find
        self._known: dict[str, tuple[dict[tuple[int, int], list[Data]], list[str]]] = {}

    def data_at(self, where: Location) -> Data:
        """Return the data of the one node that begins at a place of a file."""
        (found,) = self._file(where.file)[0][where.line, where.column]
        return found

    def text_at(self, where: Location) -> str:
        """Return the line that begins at a place of a file; the next, where `|` or `>` does."""
        lines = self._file(where.file)[1]
        text = lines[where.line - 1][where.column - 1 :]
        return lines[where.line] if text[0] in "|>" else text

    def _file(self, name: str) -> tuple[dict[tuple[int, int], list[Data]], list[str]]:
        if name not in self._known:
            path = self._find(name)
            document = load_document(path)
            nodes: dict[tuple[int, int], list[Data]] = {}
            for way, place in document.positions.items():
                nodes.setdefault(place, []).append(_at(document.data, way))
            self._known[name] = nodes, path.read_text("utf-8").split("\n")
        return self._known[name]


def _at(data: Data, way: tuple[str | int, ...]) -> Data:
    for step in way:
        data = mapping_in(data)[step] if isinstance(step, str) else items_in(data)[step]
    return data


def fields_of(found: Rule) -> Iterator[tuple[str, Field]]:
    """Yield every field that a resolved rule rests on: its own, its changes', its scopes."""
    yield from found.fields.items()
    for change in found.changes:
        yield from change.fields.items()
    yield from (("scope", scope) for scope in found.scopes)


def _first_word(text: str) -> str:
    """Return the first word of a text, however it is quoted: read with no parser of ours."""
    (word, *_) = re.findall(r"\w+", text)
    return str(word)


def check_places(done: Adapted, reread: Reread) -> int:
    """Hold every field against what its named file has at the named place; return how many."""
    count = 0
    for found in (*done.rules, *done.withdrawn):
        assert reread.data_at(found.location) == found.id
        for change in found.changes:
            named = str(reread.data_at(change.location))
            assert named == (found.full_id if "#" in named else found.id)
        for name, field in fields_of(found):
            assert reread.data_at(field.location) == field.data, (found.full_id, name)
            if isinstance(field.data, str):
                assert _first_word(reread.text_at(field.location)) == _first_word(field.data)
            count += 1
    return count


@steady
@given(chain=chains(), suffixes=st.lists(st.sampled_from(sorted(WRITERS)), min_size=4, max_size=4))
def test_every_field_of_a_chain_stands_where_it_says(
    tmp_path_factory: pytest.TempPathFactory, chain: Chain, suffixes: list[str]
) -> None:
    """Each field of each resolved rule is found in the file, at the line and column it names."""
    folder = tmp_path_factory.mktemp("chain")
    done = written(folder, chain, suffixes)
    count = check_places(done, Reread(Path))
    assert count >= FEWEST_FIELDS * len(done.rules)
    layers = {f"t/layer-{i}": f"book-{i}" for i in range(len(chain.books))}
    for found in (*done.rules, *done.withdrawn):
        for _, field in fields_of(found):
            assert Path(field.location.file).stem == layers[field.book.partition("@")[0]]


@steady
@given(chain=chains())
def test_a_chain_comes_to_what_its_last_changes_say(
    tmp_path_factory: pytest.TempPathFactory, chain: Chain
) -> None:
    """Rule by rule and field by field, the last rulebook to write it is the one that counts."""
    done = written(tmp_path_factory.mktemp("chain"), chain, [".json"] * 4)
    assert sorted(found.full_id for found in done.rules) == sorted(chain.standing)
    assert {found.full_id for found in done.withdrawn} == chain.gone
    for found in (*done.rules, *done.withdrawn):
        expected = chain.fields[found.full_id]
        assert {
            name: (field.data, field.book.partition("@")[0]) for name, field in found.fields.items()
        } == expected
        changed_by = [change.book.partition("@")[0] for change in found.changes]
        assert changed_by == chain.changed_by[found.full_id]


SHIPPED = sorted(f for f in shipped("rulebooks").rglob("*@*") if f.suffix in SUFFIXES)


def _shipped_file(name: str) -> Path:
    assert name.startswith("rulebooks/")
    return shipped("rulebooks") / name.removeprefix("rulebooks/")


@pytest.mark.parametrize("file", SHIPPED, ids=lambda file: file.stem)
def test_every_shipped_field_stands_where_it_says(file: Path) -> None:
    """Each field of each rule that ships is found in its file, at its line and column."""
    found = Shelf(files=(file,))
    done = adapt(found.given[0], found)
    assert done.rules
    assert check_places(done, Reread(_shipped_file)) >= FEWEST_FIELDS * len(done.rules)


def test_shipped_rulebooks_are_five() -> None:
    """The list of rulebooks whose places are checked has not shrunk."""
    assert len(SHIPPED) == 5


# order

ROOF: dict[str, Any] = {
    "complete": all_listed(),
    "planes": {"S": {"faces": "180 deg"}, "E": {"faces": "90 deg"}},
}
LENGTHS = st.sampled_from(["1 ft", "20 in", "3 ft", "unknown", None])
WORDS = st.sampled_from(["at_least", "at_most"])
OF = ("line.length", "line.membrane_width", "line.common_run")


@st.composite
def roofs(draw: Draw) -> dict[str, Any]:
    """Return a roof with a few hips and ridges, some of their readings missing."""
    lines = {}
    for i in range(draw(st.integers(1, 3))):
        readings = {fact.partition(".")[2]: draw(LENGTHS) for fact in OF}
        kept = {name: value for name, value in readings.items() if value is not None}
        kind = draw(st.sampled_from(["hip", "ridge"]))
        lines[f"L{i}"] = {"kind": kind, "between": ["S", "E"], **kept}
    return {**ROOF, "lines": lines}


@st.composite
def judged_rules(draw: Draw, *, least: int = 1, most: int = 6) -> list[dict[str, Any]]:
    """Return rules on lines that can be compiled and judged."""
    count = draw(st.integers(least, most))
    return [
        rule(
            f"r{i}",
            draw(st.sampled_from(OF)),
            {draw(WORDS): f"{draw(st.integers(1, 40))} in"},
            when={"line.kind": {"one_of": draw(st.sampled_from([["hip"], ["hip", "ridge"]]))}},
            class_=draw(st.sampled_from(["critical", "major", "minor"])),
        )
        for i in range(count)
    ]


def told(done: Adapted) -> dict[str, object]:
    """Return all that resolved rules say, by the rule: fields and changes, with their books."""
    return {
        found.full_id: (
            {name: (field.data, field.book) for name, field in found.fields.items()},
            [
                (change.book, change.reason, change.withdraws, change.permitted_by)
                for change in found.changes
            ],
            [scope.data for scope in found.scopes],
        )
        for found in (*done.rules, *done.withdrawn)
    }


def came(done: Audit, *, books: bool = True) -> Counter[tuple[object, ...]]:
    """Return what an audit came to: its findings, in no order.

    Of limits that can't be met together two are named, and which of several is left to the file.
    """
    return Counter(
        (
            found.rule.id if found.rule else found.about,
            found.place.label,
            str(found.outcome),
            found.reason if found.about != CONFLICT else "",
            found.margin.text if found.margin else "",
            tuple(used.text for used in found.measured),
            found.books if books else (),
        )
        for found in done.findings
    )


@st.composite
def county(draw: Draw, base: list[dict[str, Any]]) -> dict[str, Any]:
    """Return the changes of a rulebook on a base, each of another rule, and rules of its own."""
    changes: dict[str, list[dict[str, Any]]] = {"amendments": [], "withdrawals": []}
    for one in base:
        match draw(st.sampled_from(["amend", "withdraw", "leave"])):
            case "amend":
                fields = {"limit": {draw(WORDS): f"{draw(st.integers(1, 40))} in"}}
                changes["amendments"].append(amendment(one["id"], **fields, **PERMIT))
            case "withdraw":
                changes["withdrawals"].append(amendment(one["id"], **PERMIT))
    own = draw(st.integers(0, 2))
    limit = {"at_least": f"{draw(st.integers(1, 9))} in"}
    return {**changes, "rules": [rule(f"own{i}", "line.vent_closed", limit) for i in range(own)]}


@steady
@given(data=st.data(), base=judged_rules(), roof=roofs())
def test_order_in_a_file_says_nothing(
    data: st.DataObject, base: list[dict[str, Any]], roof: dict[str, Any]
) -> None:
    """Rules, amendments and withdrawals in any order come to the same rules and findings."""
    local = data.draw(county(base))

    def texts(order: Callable[[list[Any]], list[Any]]) -> tuple[str, str]:
        rules, parts = order(base), {key: order(entries) for key, entries in local.items()}
        own = parts.pop("rules")
        return (
            rulebook(*own, name="t/c@1", based_on=["t/a@1"], **parts),
            rulebook(*rules, name="t/a@1"),
        )

    plain = texts(lambda entries: entries)
    shuffled = texts(lambda entries: data.draw(st.permutations(entries)) if entries else entries)
    expected = told(laid(*plain))
    assert len(expected) == len(base) + len(local["rules"])
    assert told(laid(*shuffled)) == expected
    asked = ("t/a@1", "t/c@1")
    one, other = (audit(roof, *these, asked=asked) for these in (plain, shuffled))
    assert came(other) == came(one)
    assert other.outcome is one.outcome
    assert [(b.outcome, b.counts) for b in other.books] == [
        (b.outcome, b.counts) for b in one.books
    ]


@steady
@given(data=st.data(), rules=judged_rules(least=2), roof=roofs())
def test_one_rulebook_or_two_find_the_same(
    data: st.DataObject, rules: list[dict[str, Any]], roof: dict[str, Any]
) -> None:
    """Rules parted into two rulebooks come to the findings that they come to in one."""
    parting = data.draw(st.lists(st.booleans(), min_size=len(rules), max_size=len(rules)))
    parts = [
        [r for r, here in zip(rules, parting, strict=True) if here is side]
        for side in (False, True)
    ]
    assume(all(parts))
    whole = audit(roof, rulebook(*rules, name="t/whole@1"))
    names = ("t/one@1", "t/other@1")
    texts = [rulebook(*part, name=name) for part, name in zip(parts, names, strict=True)]
    parted = audit(roof, *texts, asked=names)
    one, two = came(whole, books=False), came(parted, books=False)
    assert sum(one.values()) >= len(rules)
    assert not one - two
    # Of one rulebook nobody asks whether its limits can be met together; of two it is asked.
    assert {key[0] for key in two - one} <= {CONFLICT}
    if one == two:
        assert parted.outcome is whole.outcome
        assert parted.counts == whole.counts


# slips

IDS = ("strip-width", "drip-edge", "cap-overlap", "nail-depth")


@st.composite
def bases_with_slip(draw: Draw) -> tuple[list[dict[str, Any]], str]:
    """Return a base's rules and one of their ids."""
    ids = draw(st.lists(st.sampled_from(IDS), min_size=1, unique=True))
    rules = [rule(id_, "line.length", {"at_least": "1 in"}) for id_ in ids]
    return rules, draw(st.sampled_from(ids))


def _child(*changes: tuple[str, dict[str, Any]], bases: tuple[str, ...] = ("t/a@1",)) -> str:
    """Return a rulebook with changes, each under the heading that it is given with."""
    parts: dict[str, Any] = {"amendments": [], "withdrawals": []}
    for heading, change in changes:
        parts[heading].append(change)
    return rulebook(name="t/c@1", based_on=list(bases), **parts)


def _said(told_one: Problem, text: str) -> str:
    """Return what stands in a file at the place of its problem."""
    assert told_one.location.file.endswith("book-0.json")
    lines = text.split("\n")
    return lines[told_one.location.line - 1][told_one.location.column - 1 :].rstrip(",")


@steady
@given(
    drawn=bases_with_slip(),
    headings=st.sampled_from([("amendments", "amendments"), ("amendments", "withdrawals"),
                              ("withdrawals", "withdrawals")]),
    qualified=st.tuples(st.booleans(), st.booleans()),
)  # fmt: skip
def test_two_changes_of_one_rule_are_one_problem(
    drawn: tuple[list[dict[str, Any]], str], headings: tuple[str, str], qualified: tuple[bool, bool]
) -> None:
    """A rule changed twice in one rulebook is told once, at the second change."""
    rules, id_ = drawn
    names = [f"t/a#{id_}" if long else id_ for long in qualified]
    changes = [
        (heading, amendment(name, **PERMIT, **({"title": "x"} if heading[0] == "a" else {})))
        for heading, name in zip(headings, names, strict=True)
    ]
    text = _child(*changes)
    (told_one,) = problems(lambda: laid(text, rulebook(*rules, name="t/a@1")))
    assert (told_one.expected, told_one.advice) == ("one change a rule", "make one change of them")
    assert told_one.found == f"a second for `{names[1]}`"
    assert _said(told_one, text) == f'"{names[1]}"'
    assert told_one.location.line > text[: text.index(f'"{names[0]}"')].count("\n") + 1


@steady
@given(
    drawn=bases_with_slip(), at=st.integers(1, 8), heading=st.sampled_from(["amend", "withdraw"])
)
def test_a_change_of_nothing_is_told_with_what_was_meant(
    drawn: tuple[list[dict[str, Any]], str], at: int, heading: str
) -> None:
    """A change of a rule that no base has is one problem, with the rule of the nearest name."""
    rules, id_ = drawn
    slip = id_[:at] + id_[at + 1 :]
    changes = [("amendments", amendment(slip, title="x"))]
    if heading == "withdraw":
        changes = [("withdrawals", amendment(slip, **PERMIT))]
    text = _child(*changes)
    (told_one,) = problems(lambda: laid(text, rulebook(*rules, name="t/a@1")))
    assert told_one.expected == "a rule of a base"
    assert told_one.found == f"`{slip}`"
    assert told_one.advice == f"did you mean `{id_}`?"
    assert _said(told_one, text) == f'"{slip}"'


@steady
@given(drawn=bases_with_slip(), owner=st.sampled_from(["t/a", "t/b"]))
def test_an_id_of_two_bases_must_be_qualified(
    drawn: tuple[list[dict[str, Any]], str], owner: str
) -> None:
    """An id that two bases have is told with both full names, and either of them is taken."""
    rules, id_ = drawn
    bases = [rulebook(*rules, name="t/a@1"), rulebook(*rules, name="t/b@1")]
    text = _child(("amendments", amendment(id_, title="x")), bases=("t/a@1", "t/b@1"))
    (told_one,) = problems(lambda: laid(text, *bases))
    assert told_one.found == f"`{id_}`, which is in two bases"
    assert told_one.advice == f"`t/a#{id_}` or `t/b#{id_}`"
    assert _said(told_one, text) == f'"{id_}"'
    named = ("amendments", amendment(f"{owner}#{id_}", title="x"))
    done = laid(_child(named, bases=("t/a@1", "t/b@1")), *bases)
    assert [found.full_id for found in done.rules if found.changes] == [f"{owner}#{id_}"]
    assert len(done.rules) == 2 * len(rules)


# bases that share a base


def _tower(levels: int, *rules: dict[str, Any], **fields: object) -> list[str]:
    """Return rulebooks, two a level, each based on both of the level below; one at either end."""
    below: list[str] = ["t/root@1"]
    texts = [rulebook(*rules, name="t/root@1", **fields)]
    for level in range(levels):
        names = [f"t/{side}{level}@1" for side in ("left", "right")]
        texts += [rulebook(name=name, based_on=below) for name in names]
        below = names
    return [rulebook(name="t/top@1", based_on=below), *texts]


@steady
@given(rules=judged_rules(), levels=st.integers(1, 20), roof=roofs())
def test_a_base_met_on_many_ways_is_there_once(
    rules: list[dict[str, Any]], levels: int, roof: dict[str, Any]
) -> None:
    """However many ways lead down to a rulebook, each of its rules and facts is there once."""
    facts = {"line.lining": {"dimension": "yes or no", "measure": "a lining lies under it"}}
    total = {"dimension": "length", "measure": "both", "sum": ["line.length", "line.vent_closed"]}
    texts = _tower(levels, *rules, facts=facts, derive={"line.both": total})
    done = laid(*texts)
    assert [found.id for found in done.rules] == [one["id"] for one in rules]
    assert [fact.full_name for fact in done.facts] == ["line.lining"]
    assert [name for name, _ in done.derive] == ["line.both"]
    assert Counter(book.name for book in done.documents()) == Counter(
        book.given[0].name for book in map(shelf, texts)
    )
    if levels <= 5:
        plain = audit(roof, texts[1], asked=("t/root@1",))
        assert came(audit(roof, *texts), books=False) == came(plain, books=False)


SLATE, CLAY = ({"covering": covering} for covering in ("composite slate", "clay tile"))


@pytest.mark.parametrize("covering", ["composite slate", "clay tile", "metal panel"])
@pytest.mark.parametrize("scopes", [(SLATE, CLAY), (SLATE, None), (SLATE, SLATE)], ids=str)
def test_bases_for_different_roofs_share_a_base_in_any_order(
    covering: str, scopes: tuple[dict[str, str] | None, dict[str, str] | None]
) -> None:
    """A rule met on two ways is judged where either way is written for the roof."""
    one = rule("r", "line.length", {"at_least": "2 ft"})
    ways = [
        rulebook(name=f"t/{name}@1", based_on=["t/a@1"], **({"scope": scope} if scope else {}))
        for name, scope in zip(("left", "right"), scopes, strict=True)
    ]
    roof = {
        **ROOF,
        "roof": {"id": "T-1", "covering": covering},
        "lines": {"H": {"kind": "hip", "length": "1 ft"}},
    }
    expected = "fail" if any(s is None or s["covering"] == covering for s in scopes) else "not app"
    for bases in (["t/left@1", "t/right@1"], ["t/right@1", "t/left@1"]):
        top = rulebook(name="t/top@1", based_on=bases)
        done = audit(roof, top, *ways, rulebook(one, name="t/a@1"))
        gravest = min(str(found.outcome) for found in findings(done, "r"))
        assert gravest.startswith(expected), (bases, gravest)


@steady
@given(data=st.data(), base=judged_rules(), roof=roofs())
def test_a_base_beside_its_own_child_is_judged_once(
    data: st.DataObject, base: list[dict[str, Any]], roof: dict[str, Any]
) -> None:
    """What a child leaves alone is judged once for both; what it changes, once for each."""
    local = data.draw(county(base))
    own = local.pop("rules")
    child = rulebook(*own, name="t/c@1", based_on=["t/a@1"], **local)
    names = ("t/a@1", "t/c@1")
    done = audit(roof, child, rulebook(*base, name="t/a@1"), asked=names)
    amended = {change["rule"] for change in local["amendments"]}
    withdrawn = {change["rule"] for change in local["withdrawals"]}
    for one in base:
        id_ = one["id"]
        here = Counter((found.place.label, found.books) for found in findings(done, id_))
        assert set(here.values()) == {1}
        books = {found.books for found in findings(done, id_)}
        if id_ in amended or id_ in withdrawn:
            assert books == {("t/a@1",), ("t/c@1",)}
        else:
            assert books == {names}
    alone = audit(roof, rulebook(*base, name="t/a@1"))
    assert [b.outcome for b in done.books[:1]] == [b.outcome for b in alone.books]


@pytest.mark.parametrize("middle", ["12 in", "30 in"])
def test_a_child_amends_what_its_parent_made(middle: str) -> None:
    """The third rulebook of a chain changes what the second made; each is judged as it stands."""
    base = rulebook(rule("strip", "line.membrane_width", {"at_least": "9 in"}), name="t/a@1")
    parent = rulebook(
        name="t/b@1",
        based_on=["t/a@1"],
        amendments=[amendment("strip", limit={"at_least": middle}, why="ice")],
    )
    child = rulebook(
        name="t/c@1",
        based_on=["t/b@1"],
        amendments=[amendment("t/a#strip", limit={"at_least": "18 in"}, **PERMIT)],
    )
    (strip,) = laid(child, parent, base).rules
    assert strip.fields["limit"].data == {"at_least": "18 in"}
    assert (strip.fields["why"].data, strip.fields["why"].book) == ("ice", "t/b@1")
    assert [change.book for change in strip.changes] == ["t/b@1", "t/c@1"]
    roof = {**ROOF, "lines": {"H": {"kind": "hip", "membrane_width": "15 in"}}}
    asked = ("t/a@1", "t/b@1", "t/c@1")
    each = [outcomes(audit(roof, child, parent, base, asked=(name,)), "strip") for name in asked]
    parents = "pass" if middle == "12 in" else "fail"
    assert each == [{"hip H": "pass"}, {"hip H": parents}, {"hip H": "fail"}]


# editions

DAY_ONE = dt.date(2020, 1, 1)


@st.composite
def periods(draw: Draw) -> list[tuple[dt.date | None, dt.date | None]]:
    """Return one to five periods in order that share no day; the outer ends may be open."""
    count = draw(st.integers(1, 5))
    days = sorted(draw(st.sets(st.integers(0, 60), min_size=2 * count, max_size=2 * count)))
    ends = [DAY_ONE + dt.timedelta(days=day) for day in days]
    spans: list[tuple[dt.date | None, dt.date | None]] = list(
        zip(ends[::2], ends[1::2], strict=True)
    )
    for i, (first, last) in enumerate(spans):
        if first and draw(st.integers(0, 4)) == 0:
            spans[i] = (first, first)  # one day alone
        if first and last and i + 1 < count and draw(st.booleans()):
            spans[i + 1] = (last + dt.timedelta(days=1), spans[i + 1][1])  # no gap before the next
    if draw(st.booleans()):
        spans[0] = (None, spans[0][1])
    if draw(st.booleans()):
        spans[-1] = (spans[-1][0], None)
    return [span for span in spans if None in span or span[0] <= span[1]]  # type: ignore[operator]


def _covers(span: tuple[dt.date | None, dt.date | None], day: dt.date) -> bool:
    first, last = span
    return (first is None or first <= day) and (last is None or day <= last)


def _editions(spans: list[tuple[dt.date | None, dt.date | None]], by: str) -> list[str]:
    """Return an edition for each period, each with a limit of its own."""
    texts = []
    for i, (first, last) in enumerate(spans):
        days = {key: str(day) for key, day in (("from", first), ("to", last)) if day}
        texts.append(
            rulebook(
                rule("length", "line.length", {"at_least": f"{i + 1} ft"}),
                name=f"t/code@e{i}",
                in_force_by=by,
                **({"in_force": days} if days else {}),
            )
        )
    return texts


HIP = {"H": {"kind": "hip", "between": ["S", "E"], "length": "1000 in"}}
SAID = {
    "permit": lambda day: {"dates": {"permit": day}},
    "installation": lambda day: {"dates": {"installation": day}},
    "inspection": lambda day: {"inspection": {"date": day}},
}


@settings(steady, max_examples=150)
@given(data=st.data(), spans=periods(), by=st.sampled_from(sorted(SAID)))
def test_the_edition_that_covers_the_day_is_picked(
    data: st.DataObject, spans: list[tuple[dt.date | None, dt.date | None]], by: str
) -> None:
    """Of editions in force one after another, the day's own judges; on no edition's day, none."""
    ends = [end for span in spans for end in span if end]
    near = [end + dt.timedelta(days=step) for end in ends for step in (-1, 0, 1)] or [DAY_ONE]
    day = data.draw(st.sampled_from(near) | st.dates(dt.date(2019, 6, 1), dt.date(2020, 9, 1)))
    texts = data.draw(st.permutations(_editions(spans, by)))
    roof = {**ROOF, "lines": HIP, **SAID[by](str(day))}
    done = audit(roof, *texts, asked=("t/code",))
    (book,) = done.books
    covering = [i for i, span in enumerate(spans) if _covers(span, day)]
    assert len(covering) <= 1
    if covering:
        assert book.edition.book.edition == f"e{covering[0]}"
        assert str(book.outcome) == "pass"
        assert outcomes(done, "length") == {"hip H": "pass"}
        (found,) = findings(done, "length")
        assert found.check is not None
        assert found.check.rule.fields["limit"].data == {"at_least": f"{covering[0] + 1} ft"}
        if spans != [(None, None)]:
            assert f"by the {by} date {day}" in book.note
    else:
        assert str(book.outcome) == str(done.outcome) == "not verified"
        reasons = {found.reason for found in done.findings if found.rule}
        assert len(reasons) == 1
        assert f"no edition at hand was in force on the {by} date {day} (" in reasons.pop()


UNDATED = {
    "unknown": "is unknown",
    "can't reach": "can't reach",
    "": "not recorded",
}


@settings(steady, max_examples=40)
@given(spans=periods(), by=st.sampled_from(sorted(SAID)), said=st.sampled_from(sorted(UNDATED)))
def test_no_day_picks_no_edition(
    spans: list[tuple[dt.date | None, dt.date | None]], by: str, said: str
) -> None:
    """With no day to go by nothing is verified, however many editions there are."""
    roof = {**ROOF, "lines": HIP, **(SAID[by](said) if said else {})}
    if said == "" and by == "inspection":
        roof.pop("inspection", None)
    done = audit(roof, *_editions(spans, by), asked=("t/code",))
    assert str(done.outcome) == "not verified"
    (found,) = (found for found in done.findings if found.rule)
    assert f"the {by} date is " in found.reason
    assert UNDATED[said] in found.reason


@steady
@given(data=st.data(), spans=periods())
def test_editions_that_share_a_day_are_not_verified(
    data: st.DataObject, spans: list[tuple[dt.date | None, dt.date | None]]
) -> None:
    """On a day that two editions cover neither judges, and both are named."""
    assume(len(spans) > 1)
    i = data.draw(st.integers(0, len(spans) - 2))
    shared = spans[i + 1][0]
    assert shared is not None
    wider = [*spans]
    wider[i] = (spans[i][0], shared)
    assert all(a[1] is not None for a, _ in pairwise(wider))
    roof = {**ROOF, "lines": HIP, **SAID["permit"](str(shared))}
    done = audit(roof, *_editions(wider, "permit"), asked=("t/code",))
    assert str(done.outcome) == "not verified"
    (found,) = (found for found in done.findings if found.rule)
    told_one = f"several editions are in force on the permit date {shared}: e{i}, e{i + 1}"
    assert told_one in found.reason


def test_a_plan_of_editions_holds_them_all() -> None:
    """Editions side by side are compiled together, oldest first, and only the date parts them."""
    spans = [(None, DAY_ONE), (DAY_ONE + dt.timedelta(days=1), None)]
    (book,) = plan(*_editions(spans, "permit"), asked=("t/code",)).books
    assert [edition.book.edition for edition in book.editions] == ["e0", "e1"]

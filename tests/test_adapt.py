"""Layering: a rulebook on its bases, every field with where it came from, every slip told."""

from __future__ import annotations

import json
from itertools import permutations
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from ridgerule.adapt import Adapted, adapt
from ridgerule.problems import Location
from ridgerule.rulebook import age
from workshop import (
    all_listed,
    amendment,
    audit,
    outcomes,
    plan,
    problems,
    rule,
    rulebook,
    shelf,
)

BASE_TEXT = """\
rulebook: t/base
title: Base (invented)
edition: "1"
sources:
  us: {basis: invented}
rules:
  - id: strip
    title: The strip is wide
    of: line.membrane_width
    when: {line.kind: hip}
    limit: {at_least: 9 in}
    class: minor
    why: a test
    remedy: mend it
    source: us
"""
REGION_TEXT = """\
rulebook: t/region
title: Region (invented)
edition: "1"
based_on: [t/base@1]
sources:
  snow: {basis: firm policy, document: Snow memo}
amendments:
  - rule: strip
    limit: {at_least: 12 in}
    reason: snow
    source: snow
"""
TOWN_TEXT = """\
rulebook: t/town
title: Town (invented)
edition: "1"
based_on: [t/region@1]
sources:
  vote: {basis: invented}
amendments:
  - rule: t/base#strip
    reason: ice
    source: vote
    class: major
    limit:
      at_least: 18 in
"""
PROVENANCE = {
    # field: its value, the rulebook that wrote it, the line it stands in there
    "of": ("line.membrane_width", "t/base@1", 9),
    "when": ({"line.kind": "hip"}, "t/base@1", 10),
    "limit": ({"at_least": "18 in"}, "t/town@1", 13),
    "class": ("major", "t/town@1", 11),
    "title": ("The strip is wide", "t/base@1", 8),
    "why": ("a test", "t/base@1", 13),
    "remedy": ("mend it", "t/base@1", 14),
}


def laid(*texts: str) -> Adapted:
    """Return the first rulebook with its bases, from among the others, laid under it."""
    found = shelf(*texts)
    return adapt(found.given[0], found)


def rejected(*texts: str) -> list[str]:
    """Return what is told of the first rulebook, without the file's name."""
    return [
        f"{p.location.line}: {p.expected}; {p.found}; {p.advice}"
        for p in problems(lambda: laid(*texts))
    ]


# provenance


def test_every_field_knows_its_file_and_line() -> None:
    """Each field of a rule changed twice comes from the rulebook, file and line that wrote it."""
    done = laid(TOWN_TEXT, REGION_TEXT, BASE_TEXT)
    (strip,) = done.rules
    assert {
        name: (field.data, field.book, field.location.line) for name, field in strip.fields.items()
    } == PROVENANCE
    files = {field.book: field.location.file for field in strip.fields.values()}
    assert files["t/town@1"].endswith("book-0.yaml")
    assert files["t/base@1"].endswith("book-2.yaml")


def test_chain_of_amendments_is_kept() -> None:
    """A rule keeps its root, its id, and each change with reason, source, rulebook and line."""
    done = laid(TOWN_TEXT, REGION_TEXT, BASE_TEXT)
    (strip,) = done.rules
    assert (strip.full_id, strip.book, strip.location.line) == ("t/base#strip", "t/base@1", 7)
    assert [(c.book, c.reason, c.location.line) for c in strip.changes] == [
        ("t/region@1", "snow", 8),
        ("t/town@1", "ice", 8),
    ]
    assert strip.changes[0].source.document == "Snow memo"
    assert [book.name for book in done.documents()] == ["t/town@1", "t/region@1", "t/base@1"]
    (region,) = done.bases
    assert region.rules[0].fields["limit"].data == {"at_least": "12 in"}


def test_chain_of_three_is_judged_as_the_last_has_it() -> None:
    """What each rulebook of a chain asks is what its own last change says."""
    data = {
        "complete": all_listed(),
        "planes": {"S": {"faces": "180 deg"}, "E": {"faces": "90 deg"}},
        "lines": {"H": {"kind": "hip", "between": ["S", "E"], "membrane_width": "12 in"}},
    }
    texts = (TOWN_TEXT, REGION_TEXT, BASE_TEXT)
    names = ("t/base@1", "t/region@1", "t/town@1")
    came = {name: outcomes(audit(data, *texts, asked=(name,)), "strip") for name in names}
    assert came == {
        "t/base@1": {"hip H": "pass"},
        "t/region@1": {"hip H": "pass"},
        "t/town@1": {"hip H": "fail"},
    }
    together = audit(data, *texts, asked=names)
    assert [str(found.outcome) for found in together.findings] == ["pass", "pass", "fail"]


def test_scopes_add_up_along_the_chain() -> None:
    """A rule carries the scope of every rulebook on its way, the root's first."""
    base = rulebook(rule("r", "line.length", "1 ft"), name="t/a@1", scope={"covering": "clay tile"})
    child = rulebook(name="t/b@1", based_on=["t/a@1"], scope={"building": "dwelling"})
    (found,) = laid(child, base).rules
    assert [(field.book, field.data) for field in found.scopes] == [
        ("t/a@1", {"covering": "clay tile"}),
        ("t/b@1", {"building": "dwelling"}),
    ]


def test_facts_of_bases_are_known() -> None:
    """A rulebook may ask what its base declares."""
    facts = {"line.lining": {"dimension": "yes or no", "measure": "a lining lies under the line"}}
    base = rulebook(name="t/a@1", facts=facts)
    child = rulebook(rule("r", "line.lining", True), name="t/b@1", based_on=["t/a@1"])
    (book,) = plan(child, base).books
    assert [check.of.fact.origin for check in book.editions[0].checks] == ["t/a@1"]


# slips

STRIP = rule("strip", "line.membrane_width", {"at_least": "9 in"})
RULES = rulebook(STRIP, rule("lap", "line.drip_edge_lap", {"at_least": "2 in"}), name="t/a@1")
TWIN = rulebook(STRIP, name="t/b@1")
WIDER = {"limit": {"at_least": "12 in"}}


def child(*changes: dict[str, Any], bases: tuple[str, ...] = ("t/a@1",), **fields: Any) -> str:
    """Return a rulebook with these amendments."""
    return rulebook(name="t/c@1", based_on=list(bases), amendments=list(changes), **fields)


SLIPS: list[tuple[str, tuple[str, ...], str, str]] = [
    # what is wrong, the rulebooks, what is told, and what to do
    ("hits nothing", (child(amendment("stripe", **WIDER)), RULES), "`stripe`",
     "did you mean `strip`?"),
    ("hits nothing near", (child(amendment("zzz", **WIDER)), RULES), "`zzz`", "no such rule"),
    ("has no base", (child(amendment("strip", **WIDER), bases=()), RULES), "`strip`", "`based_on`"),
    ("hits twice", (child(amendment("strip", **WIDER), amendment("strip", class_="minor")), RULES),
     "a second for `strip`", "one change"),
    ("hits twice by two names",
     (child(amendment("strip", **WIDER), amendment("t/a#strip", class_="minor")), RULES),
     "a second for `t/a#strip`", "one change"),
    ("amends and withdraws",
     (child(amendment("strip", **WIDER), withdrawals=[amendment("strip", permitted_by="x")]),
      RULES), "a second for `strip`", "one change"),
    ("is ambiguous", (child(amendment("strip", **WIDER), bases=("t/a@1", "t/b@1")), RULES, TWIN),
     "`strip`, which is in two bases", "`t/a#strip` or `t/b#strip`"),
    ("names the edition", (child(amendment("t/a@1#strip", **WIDER)), RULES), "`t/a@1#strip`",
     "did you mean `t/a#strip`?"),
    ("id taken", (rulebook(STRIP, name="t/c@1", based_on=["t/a@1"]), RULES),
     "`strip`, which a base has", "amend `t/a#strip`"),
    ("base missing", (child(bases=("t/zzz@1",)), RULES), "`t/zzz@1`", ""),
    ("edition missing", (child(bases=("t/a@2",)), RULES), "`t/a@2`", "`t/a@1`"),
    ("stands on itself", (child(bases=("t/c@1",)),), "a circle: t/c@1 → t/c@1", "take one"),
]  # fmt: skip


def test_slips_are_many() -> None:
    """The table of slips has not shrunk, and each has a name of its own."""
    assert len({name for name, *_ in SLIPS}) == len(SLIPS) == 12


@pytest.mark.parametrize("slip", SLIPS, ids=lambda slip: slip[0])
def test_slip_is_told_in_its_place(slip: tuple[str, tuple[str, ...], str, str]) -> None:
    """A slip of layering is one problem, placed, with what was found and what to do."""
    _, texts, found, advice = slip
    (told,) = problems(lambda: laid(*texts))
    assert found in told.found
    assert advice in told.advice
    assert told.location.file.endswith("book-0.json")
    assert told.location.line > 1


def test_slips_are_told_all_at_once() -> None:
    """Every slip of a rulebook is told, not the first alone."""
    slips = [amendment(name, **WIDER) for name in ("one", "two", "three")]
    assert len(rejected(child(*slips), RULES)) == 3


def test_circle_of_three_is_told() -> None:
    """Bases that lead back are told as a circle, with the way round."""
    books = [
        rulebook(name=f"t/{one}@1", based_on=[f"t/{other}@1"])
        for one, other in (("a", "b"), ("b", "c"), ("c", "a"))
    ]
    (told,) = rejected(*books)
    assert "a circle: t/a@1 → t/b@1 → t/c@1 → t/a@1" in told


def test_qualified_id_picks_one_of_two() -> None:
    """An id that two bases have is amended by its qualified name, the other left alone."""
    text = child(amendment("t/b#strip", **WIDER), bases=("t/a@1", "t/b@1"))
    found = {rule_.full_id: rule_ for rule_ in laid(text, RULES, TWIN).rules}
    assert [change.book for change in found["t/b#strip"].changes] == ["t/c@1"]
    assert found["t/a#strip"].changes == ()
    assert found["t/a#strip"].fields["limit"].data == {"at_least": "9 in"}


def test_base_shared_by_two_bases_is_there_once() -> None:
    """A rule that reaches a rulebook on two ways, unchanged on both, is one rule, to be amended."""
    left, right = (rulebook(name=f"t/{name}@1", based_on=["t/a@1"]) for name in ("left", "right"))
    text = child(amendment("strip", **WIDER), bases=("t/left@1", "t/right@1"))
    done = laid(text, left, right, RULES)
    assert sorted(rule_.id for rule_ in done.rules) == ["lap", "strip"]


def test_base_changed_on_one_way_only_is_there_twice() -> None:
    """Changed on one way and not on the other it stands in both forms, and can't be amended."""
    left = rulebook(name="t/l@1", based_on=["t/a@1"], amendments=[amendment("strip", **WIDER)])
    right = rulebook(name="t/r@1", based_on=["t/a@1"])
    bases = ("t/l@1", "t/r@1")
    forms = [r for r in laid(child(bases=bases), left, right, RULES).rules if r.id == "strip"]
    assert [len(form.changes) for form in forms] == [1, 0]
    (told,) = rejected(child(amendment("t/a#strip", **WIDER), bases=bases), left, right, RULES)
    assert "two forms" in told


# order

CHANGES = [
    amendment("r0", limit={"at_least": "2 ft"}),
    amendment("r1", class_="critical"),
    amendment("r2", when={"line.kind": "hip"}),
    amendment("t/many#r3", title="Another title"),
    amendment("r4", stations={"at_least": 2}),
]
MANY = rulebook(*(rule(f"r{i}", "line.length", "1 ft") for i in range(6)), name="t/many@1")


def told(done: Adapted) -> dict[str, object]:
    """Return all that a rule's fields and changes say, by the rule."""
    return {
        found.full_id: (
            {name: (field.data, field.book) for name, field in found.fields.items()},
            [(change.book, change.reason) for change in found.changes],
        )
        for found in done.rules
    }


@settings(max_examples=25, deadline=None)
@given(order=st.permutations(CHANGES))
def test_order_of_amendments_does_not_matter(order: list[dict[str, Any]]) -> None:
    """Amendments of different rules come to the same rules, in whatever order they stand."""
    expected = told(laid(child(*CHANGES, bases=("t/many@1",)), MANY))
    assert told(laid(child(*order, bases=("t/many@1",)), MANY)) == expected
    assert sum(1 for _, changes in expected.values() if changes) == len(CHANGES)  # type: ignore[misc,has-type]


def test_order_of_bases_and_files_does_not_matter() -> None:
    """The same rules come of bases listed, and of files given, in any order."""
    third = rulebook(rule("own", "line.length", "1 ft"), name="t/own@1")
    forms = [
        told(laid(child(amendment("r0", **WIDER), bases=order), *files))
        for order in permutations(("t/a@1", "t/many@1", "t/own@1"))
        for files in permutations((RULES, MANY, third))
    ]
    assert len(forms) == 36
    assert all(form == forms[0] for form in forms)


# withdrawals and sources


def test_withdrawn_rule_leaves_the_rules() -> None:
    """A withdrawal takes the rule out and keeps it, with reason and permit, among the withdrawn."""
    gone = amendment("strip", permitted_by="county order 9")
    done = laid(child(withdrawals=[gone]), RULES)
    assert [found.id for found in done.rules] == ["lap"]
    (strip,) = done.withdrawn
    assert (strip.changes[-1].withdraws, strip.changes[-1].permitted_by) == (True, "county order 9")
    grand = rulebook(name="t/d@1", based_on=["t/c@1"])
    assert [r.id for r in laid(grand, child(withdrawals=[gone]), RULES).withdrawn] == ["strip"]


def test_withdrawn_rule_can_not_be_amended_further_down() -> None:
    """A rulebook on top of a withdrawal has no such rule any more."""
    middle = child(withdrawals=[amendment("strip", permitted_by="x")])
    top = rulebook(name="t/d@1", based_on=["t/c@1"], amendments=[amendment("strip", **WIDER)])
    (told_,) = rejected(top, middle, RULES)
    assert "`strip`" in told_


LACKING = [
    ("withdrawals", amendment("strip"), "permitted_by"),
    ("amendments", {"rule": "strip", "source": "us", "class": "minor", **WIDER}, "reason"),
    ("amendments", {"rule": "strip", "reason": "x", "class": "minor", **WIDER}, "source"),
    ("amendments", amendment("strip"), "at least one field to change"),
]


@pytest.mark.parametrize(("section", "change", "lacking"), LACKING)
def test_change_says_all_it_must(section: str, change: dict[str, Any], lacking: str) -> None:
    """A withdrawal without its permit, a change without reason, source or content is refused."""
    text = rulebook(name="t/c@1", based_on=["t/a@1"], **{section: [change]})
    (told_,) = problems(lambda: laid(text, RULES))
    assert lacking in str(told_)


@pytest.mark.parametrize("where", ["rules", "amendments", "withdrawals"])
def test_source_must_be_listed(where: str) -> None:
    """A source that the file does not list is told, with the nearest that it does."""
    extra = {"source": "uss"}
    made = {
        "rules": rulebook(STRIP | extra, name="t/a@1"),
        "amendments": child(amendment("strip", **WIDER) | extra),
        "withdrawals": child(withdrawals=[amendment("strip", permitted_by="x") | extra]),
    }
    (told_,) = problems(lambda: laid(made[where], RULES))
    assert "`uss`" in told_.found
    assert "`us`" in told_.advice


def test_published_source_names_document_and_edition() -> None:
    """A source said to be published names what anyone would have to look up."""
    data = json.loads(rulebook(STRIP))
    data["sources"]["us"] = {"basis": "published", "document": "A code (invented)"}
    (told_,) = problems(lambda: laid(json.dumps(data)))
    assert "edition" in str(told_)
    data["sources"]["us"]["edition"] = 2026
    assert laid(json.dumps(data)).rules[0].source.edition == "2026"


def test_editions_are_in_the_order_of_their_numbers() -> None:
    """Edition 10 is newer than edition 9, and 2026-04 than 2025-11, whatever their text says."""
    books = [rulebook(rule("a", "line.length", "present"), name=f"t/b@{e}") for e in ("9", "10")]
    found = shelf(*books).editions("t/b", asked_at=Location("test"))
    assert [book.edition for book in found] == ["9", "10"]
    assert age("2026-04") > age("2025-11") > age("2025-9")

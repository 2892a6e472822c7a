"""What changed between two rulebooks: every kind of change, how strict it is, how it is worded.

The rulebooks are invented, save where the shipped ones are named; no figure in them means anything.
"""

from __future__ import annotations

import json
import random
from typing import TYPE_CHECKING, Any

import pytest

from ridgerule.audit.compile import plan_for
from ridgerule.audit.strictness import Strictness
from ridgerule.problems import Location
from ridgerule.proof.differences import Differences, differences
from ridgerule.proof.differences_facts import Kind
from ridgerule.reports.differences_data import differences_data
from ridgerule.reports.differences_facts_words import coverage_told, fact_told
from ridgerule.reports.differences_sheet import differences_sheet
from ridgerule.reports.differences_words import rule_told
from ridgerule.reports.page import Page
from ridgerule.reports.sheet_markdown import as_markdown
from ridgerule.reports.sheet_text import as_text
from ridgerule.shelf import Shelf
from workshop import amendment, plan, rule, rulebook

if TYPE_CHECKING:
    from ridgerule.audit.plan import Edition

SHIPPED = (
    "code/model-residential@2021",
    "code/model-residential@2024",
    "demo/tarn-county@2026-04",
    "demo/tarnfell-slate@2026-01",
    "practice/hip-and-ridge@2026-11",
)
STRICTER, LOOSER = Strictness.STRICTER, Strictness.LOOSER
DIFFERENT, WORDING = Strictness.DIFFERENT, Strictness.WORDING
TURNED = {STRICTER: LOOSER, LOOSER: STRICTER, DIFFERENT: DIFFERENT, WORDING: WORDING}
HIP = {"line.kind": "hip"}


def edition(text: str, *more: str) -> Edition:
    """Return a rulebook from its text, compiled; the others are those it is based on."""
    return plan(text, *more).books[0].editions[0]


def shipped(name: str) -> Edition:
    """Return a shipped rulebook, compiled."""
    return plan_for([(name, Location("test"))], Shelf()).books[0].editions[0]


def between(old: dict[str, Any], new: dict[str, Any], **fields: object) -> Differences:
    """Return what changed where one rule became another."""
    return differences(
        edition(rulebook(old, name="test/house@1", **fields)),
        edition(rulebook(new, name="test/house@2", **fields)),
    )


def gap(**fields: Any) -> dict[str, Any]:
    """Return a rule on the gap at a station, some fields replaced; None leaves one out."""
    whole = {
        "id": "gap", "of": "station.gap", "limit": {"at_least": "3 in"}, "when": HIP, **fields,
    }  # fmt: skip
    kept = {name: value for name, value in whole.items() if value is not None}
    return rule(kept.pop("id"), kept.pop("of"), kept.pop("limit"), **kept)


def table(*rows: tuple[str, str]) -> dict[str, Any]:
    """Return a limit by the roof's covering."""
    listed = [{"for": covering, "limit": {"at_least": least}} for covering, least in rows]
    return {"table": {"by": "roof.covering", "rows": listed}}


ONE = {"one_of": ["D226 type I", "D226 type II", "D1970"]}
MORE = {"one_of": ["D226 type I", "D226 type II", "D1970", "D8257"]}
SLATES = {"covering": {"one_of": ["composite slate", "natural slate"]}}

CHANGES: tuple[tuple[str, dict[str, Any], dict[str, Any], str, Strictness, str, str], ...] = (
    # field, the rule as it was and as it is, the field's name, what it does, in words
    ("higher limit", gap(), gap(limit={"at_least": "4 in"}), "limit", STRICTER,
     "at least 3 in", "at least 4 in"),
    ("lower limit", gap(), gap(limit={"at_least": "2 in"}), "limit", LOOSER,
     "at least 3 in", "at least 2 in"),
    ("other end", gap(), gap(limit={"at_most": "3 in"}), "limit", DIFFERENT,
     "at least 3 in", "at most 3 in"),
    ("other unit", gap(limit={"at_least": "24 in"}), gap(limit={"at_least": "2 ft"}), "limit",
     WORDING, "at least 24 in", "at least 2 ft"),
    ("an upper end", gap(), gap(limit={"between": ["3 in", "5 in"]}), "limit", STRICTER,
     "at least 3 in", "3 in to 5 in"),
    ("a fact as limit", gap(), gap(limit={"at_least": "line.membrane_width"}), "limit", DIFFERENT,
     "at least 3 in", "at least line membrane width"),
    ("longer list", gap(of="plane.underlayment", limit=ONE, when=None),
     gap(of="plane.underlayment", limit=MORE, when=None), "limit", LOOSER,
     "D226 type I, D226 type II or D1970", "D226 type I, D226 type II, D1970 or D8257"),
    ("narrower condition", gap(), gap(when={**HIP, "line.vented": "no"}), "when", LOOSER,
     "line kind is hip", "line kind is hip and line vented is no"),
    ("wider condition", gap(), gap(when={"line.kind": {"one_of": ["hip", "ridge"]}}), "when",
     STRICTER, "line kind is hip", "line kind is hip or ridge"),
    ("no condition", gap(when={"line.vented": "no"}), gap(when=None, on="line"), "when", STRICTER,
     "line vented is no", "everywhere"),
    ("a scope", gap(), gap(scope=SLATES), "scope", LOOSER, "whatever its rulebooks are for",
     "roof covering is composite slate or natural slate"),
    ("lower class", gap(class_="critical"), gap(class_="minor"), "class", LOOSER,
     "critical", "minor"),
    ("higher class", gap(class_="minor"), gap(class_="major"), "class", STRICTER, "minor", "major"),
    ("a photo", gap(), gap(evidence={"photo": True}), "evidence", STRICTER,
     "in any way", "in any way, with a photo"),
    ("weaker evidence", gap(evidence={"how": ["measured"]}),
     gap(evidence={"how": ["measured", "stated"]}), "evidence", LOOSER,
     "measured", "measured or stated"),
    ("other evidence", gap(evidence={"how": ["seen"]}), gap(evidence={"how": ["stated"]}),
     "evidence", DIFFERENT, "seen", "stated"),
    ("stations", gap(), gap(stations={"at_least": 3}), "stations", STRICTER,
     "any number", "at least 3 on each line"),
    ("denser stations", gap(stations={"at_least": 2, "one_per": "10 ft"}),
     gap(stations={"at_least": 2, "one_per": "6 ft"}), "stations", STRICTER,
     "at least 2 on each line, and one for each 10 ft of it",
     "at least 2 on each line, and one for each 6 ft of it"),
    ("fewer and denser", gap(stations={"at_least": 3, "one_per": "10 ft"}),
     gap(stations={"at_least": 2, "one_per": "6 ft"}), "stations", DIFFERENT,
     "at least 3 on each line, and one for each 10 ft of it",
     "at least 2 on each line, and one for each 6 ft of it"),
    ("an aim", gap(), gap(aim={"equal_to": "3 1/8 in"}), "aim", WORDING, "", "3 1/8 in"),
    ("title", gap(title="A"), gap(title="B"), "title", WORDING, "A", "B"),
    ("why", gap(why="A"), gap(why="B"), "why", WORDING, "A", "B"),
    ("remedy", gap(remedy="A"), gap(remedy="B"), "remedy", WORDING, "A", "B"),
    ("may be loosened", gap(), gap(may_be_loosened=False), "may_be_loosened", WORDING,
     "where somebody permits it", "never"),
    ("another fact", gap(), gap(of="station.cap_exposure"), "of", DIFFERENT,
     "station.gap", "station.cap_exposure"),
    ("another word", gap(of="each station.gap", at="line"), gap(of="any station.gap", at="line"),
     "of", DIFFERENT, "each station.gap", "any station.gap"),
    ("another place", gap(of="least station.gap", at="line"),
     gap(of="least station.gap", at="roof", when=None), "at", DIFFERENT, "each hip", "the roof"),
    ("another host", gap(of="station.fasteners", limit={"at_least": 2}, when=None, on="line"),
     gap(of="station.fasteners", limit={"at_least": 2}, when=None, on="plane"), "on", DIFFERENT,
     "line", "plane"),
)  # fmt: skip


@pytest.mark.parametrize("change", CHANGES, ids=lambda change: change[0])
def test_every_field_that_changes_is_told(
    change: tuple[str, dict[str, Any], dict[str, Any], str, Strictness, str, str],
) -> None:
    """A changed field is told with what it was and is, and with what the change does."""
    _, old, new, field, strict, was, now = change
    (found,) = between(old, new).told
    told = {each.field: each for each in rule_told(found)}
    assert (told[field].was, told[field].now, told[field].strictness) == (was, now, strict)
    assert found.kind is Kind.CHANGED
    if len(told) == 1:
        assert found.strictness is strict


@pytest.mark.parametrize("change", CHANGES, ids=lambda change: change[0])
def test_stricter_turned_round_is_looser(
    change: tuple[str, dict[str, Any], dict[str, Any], str, Strictness, str, str],
) -> None:
    """With old and new exchanged every field does the opposite and reads the other way round."""
    _, old, new, *_ = change
    (there,), (back,) = between(old, new).told, between(new, old).told
    fields = {each.field: each for each in rule_told(back)}
    assert len(fields) == len(rule_told(there))
    for each in rule_told(there):
        turned = fields[each.field]
        assert (turned.was, turned.now) == (each.now, each.was)
        assert turned.strictness is TURNED[each.strictness]
    assert back.strictness is TURNED[there.strictness]


def test_other_cases_make_no_other_rule() -> None:
    """Cases alone are counted and not told."""
    cases = [{"given": {"line.kind": "valley"}, "expect": "not applicable"}]
    found = between(gap(), gap(cases=cases))
    assert found.is_empty
    (same,) = found.rules
    assert (same.kind, same.has_other_cases) == (Kind.SAME, True)
    assert "other cases        1 rule; cases are not told here" in page(found)
    assert "Nothing changed." in page(found)


def test_one_rule_may_change_in_several_ways() -> None:
    """A stricter limit on a narrower condition is different in kind, each part by itself told."""
    new = gap(limit={"at_least": "4 in"}, when={**HIP, "line.vented": "no"}, title="Wide enough")
    (found,) = between(gap(), new).told
    assert [(part.field, part.strictness) for part in found.parts] == [
        ("when", LOOSER),
        ("limit", STRICTER),
        ("title", WORDING),
    ]
    assert found.strictness is DIFFERENT
    told = " ".join(page(between(gap(), new)).split())
    assert "at least 3 in → at least 4 in (stricter)" in told
    assert "line kind is hip → line kind is hip and line vented is no (looser)" in told


def test_a_table_is_told_row_by_row() -> None:
    """Only the rows that differ are told, those that came and went among them."""
    old = table(("natural slate", "4 in"), ("clay tile", "3 in"), ("wood shake", "3 in"))
    new = table(("wood shake", "3 in"), ("natural slate", "5 in"), ("metal panel", "1 in"))
    (found,) = between(gap(limit=old), gap(limit=new)).told
    (limit,) = rule_told(found)
    assert limit.by == "roof covering"
    assert [(row.where, row.was, row.now) for row in limit.rows] == [
        ("natural slate", "at least 4 in", "at least 5 in"),
        ("metal panel", "no row", "at least 1 in"),
        ("clay tile", "at least 3 in", "no row"),
    ]
    reordered = table(("clay tile", "3 in"), ("wood shake", "3 in"), ("natural slate", "4 in"))
    assert between(gap(limit=old), gap(limit=reordered)).is_empty


def test_a_limit_that_becomes_a_table_is_told_by_its_rows() -> None:
    """Where the old limit held everywhere, it is told beside each row of the new table."""
    new = table(("natural slate", "3 in"), ("clay tile", "5 in"))
    (found,) = between(gap(), gap(limit=new)).told
    (limit,) = rule_told(found)
    rows = [(row.where, row.was, row.now) for row in limit.rows]
    assert rows == [("clay tile", "at least 3 in", "at least 5 in")]
    assert limit.was == "at least 3 in"
    assert limit.now == "as the table by roof covering says"


def test_a_table_in_a_table_names_what_picks_each_row() -> None:
    """Rows of an inner table are told with what picks the outer one too."""
    inner = table(("natural slate", "4 in"))
    rows = [{"for": "hip", "limit": inner}, {"for": "ridge", "limit": {"at_least": "2 in"}}]
    old = {"table": {"by": "line.kind", "rows": rows}}
    changed = [{"for": "hip", "limit": table(("natural slate", "6 in"))}, rows[1]]
    new = {"table": {"by": "line.kind", "rows": changed}}
    (found,) = between(gap(limit=old, when=None), gap(limit=new, when=None)).told
    (limit,) = rule_told(found)
    (row,) = limit.rows
    assert (row.was, row.now) == ("at least 4 in", "at least 6 in")
    assert row.where == "line kind is hip and roof covering is natural slate"


def test_a_list_that_grew_is_told_by_what_came() -> None:
    """Beside a long list as it was, the new one is told by what came and what went."""
    of = {"of": "plane.underlayment", "when": None}
    grown = rule_told(between(gap(limit=ONE, **of), gap(limit=MORE, **of)).told[0])[0]
    assert grown.brief == "those and D8257"
    shrunk = rule_told(between(gap(limit=MORE, **of), gap(limit=ONE, **of)).told[0])[0]
    assert shrunk.brief == "those without D8257"
    assert shrunk.now == "D226 type I, D226 type II or D1970"


def test_a_renamed_rule_is_one_rule() -> None:
    """The same demand under another id is told as renamed, with what else changed of it."""
    found = between(gap(id="gap"), gap(id="clearance", title="Slates keep clear"))
    (renamed,) = found.told
    assert (renamed.kind, renamed.strictness) == (Kind.RENAMED, WORDING)
    told = {each.field: (each.was, each.now) for each in rule_told(renamed)}
    assert told["id"] == ("test/house#gap", "test/house#clearance")
    assert told["title"] == ("gap holds", "Slates keep clear")


def test_which_of_two_was_renamed_is_not_guessed() -> None:
    """Two rules that ask the same are renamed by their titles, else told as gone and added."""
    old = rulebook(gap(id="a", title="A"), gap(id="b", title="B"), name="test/house@1")
    titled = rulebook(gap(id="c", title="B"), gap(id="d", title="A"), name="test/house@2")
    renamed = differences(edition(old), edition(titled)).told
    assert [(e.before.rule.id, e.after.rule.id) for e in renamed if e.before and e.after] == [
        ("b", "c"),
        ("a", "d"),
    ]
    untitled = rulebook(gap(id="c", title="C"), gap(id="d", title="D"), name="test/house@2")
    kinds = [each.kind for each in differences(edition(old), edition(untitled)).told]
    assert sorted(kinds) == [Kind.ADDED, Kind.ADDED, Kind.GONE, Kind.GONE]


def test_rules_that_came_and_went() -> None:
    """A rule added is stricter, one gone looser; one that no roof has a place for does nothing."""
    never = gap(id="never", scope={"covering": "clay tile"})
    slates = {"covering": "composite slate"}
    old = edition(rulebook(gap(), gap(id="plain", limit={"at_most": "9 in"}), name="test/house@1",
                           scope=slates))  # fmt: skip
    new = edition(rulebook(gap(), gap(id="late", limit={"at_most": "8 in"}), never,
                           name="test/house@2", scope=slates))  # fmt: skip
    told = {each.check.rule.id: each for each in differences(old, new).told}
    assert (told["late"].kind, told["late"].strictness) == (Kind.ADDED, STRICTER)
    assert (told["plain"].kind, told["plain"].strictness) == (Kind.GONE, LOOSER)
    assert (told["never"].kind, told["never"].strictness) == (Kind.ADDED, WORDING)
    back = {each.check.rule.id: each.strictness for each in differences(new, old).told}
    assert back == {"late": LOOSER, "plain": STRICTER, "never": WORDING}


BASE = rulebook(gap(), gap(id="plain", limit={"at_most": "9 in"}), name="test/base@1")


def local(name: str = "test/local@1", **fields: object) -> Edition:
    """Return a rulebook on the base with changes of its own."""
    return edition(rulebook(name=name, based_on=["test/base@1"], **fields), BASE)


def test_a_withdrawal_says_who_permits_it() -> None:
    """A withdrawn rule is gone with the reason and the permission; back again, that is told too."""
    taken = amendment("plain", permitted_by="the office, letter 7")
    found = differences(local(), local("test/local@2", withdrawals=[taken]))
    (gone,) = found.told
    assert gone.kind is Kind.GONE
    assert gone.withdrawal is not None
    assert gone.withdrawal.permitted_by == "the office, letter 7"
    told = " ".join(page(found).split())
    assert "plain: plain holds (withdrawn)" in told
    assert "permitted by the office, letter 7" in told
    (back,) = differences(local("test/local@2", withdrawals=[taken]), local()).told
    assert (back.kind, back.withdrawal is not None) == (Kind.ADDED, True)
    assert differences(local(withdrawals=[taken]), local(withdrawals=[taken])).is_empty


def test_an_amendment_is_told_with_its_reason() -> None:
    """What a local rulebook changed is told with who changed it; its next edition is no change."""
    stricter = amendment("gap", limit={"at_least": "4 in"}, reason="snow")
    found = differences(local(), local("test/local@2", amendments=[stricter]))
    (changed,) = found.told
    told = {each.field: each.phrase for each in rule_told(changed)}
    assert told["limit"] == "at least 3 in → at least 4 in"
    assert told["amended"] == "test/local@2: snow (invented)"
    later = differences(
        local("test/local@2", amendments=[stricter]), local("test/local@3", amendments=[stricter])
    )
    assert later.is_empty
    reworded = amendment("gap", limit={"at_least": "4 in"}, reason="more snow")
    (again,) = differences(
        local("test/local@2", amendments=[stricter]), local("test/local@3", amendments=[reworded])
    ).told
    assert [each.phrase for each in rule_told(again)] == [
        "test/local@2: snow (invented) → test/local@3: more snow (invented)"
    ]
    assert again.strictness is WORDING


def test_a_base_of_another_edition_changes_what_stands_on_it() -> None:
    """A local rulebook on a newer base has the base's changes, rules matched by their root."""
    newer = rulebook(gap(limit={"at_least": "5 in"}), name="test/base@2")
    new = edition(rulebook(name="test/local@2", based_on=["test/base@2"]), newer)
    found = differences(local(), new)
    assert found.book == ("based_on",)
    told = {each.check.rule.full_id: each.kind for each in found.told}
    assert told == {"test/base#gap": Kind.CHANGED, "test/base#plain": Kind.GONE}


def test_rules_of_other_rulebooks_are_matched_by_their_plain_ids() -> None:
    """Between two firms' rulebooks a rule of the same id is the same rule."""
    one = edition(rulebook(gap(), gap(id="b", title="B"), name="test/one@1"))
    other = edition(rulebook(gap(limit={"at_least": "4 in"}), gap(id="b", title="B"),
                             name="test/other@1"))  # fmt: skip
    found = differences(one, other)
    (changed,) = found.told
    assert (changed.check.rule.full_id, changed.strictness) == ("test/other#gap", STRICTER)
    assert len(found.rules) == 2


def test_a_rule_in_two_forms_is_matched_form_by_form() -> None:
    """A rule that two bases have in two forms is compared with the form that the same base made."""

    def county(least: str) -> Edition:
        narrow = rulebook(name="test/narrow@1", based_on=["test/base@1"],
                          amendments=[amendment("gap", limit={"at_least": "4 in"})])  # fmt: skip
        wide = rulebook(name="test/wide@1", based_on=["test/base@1"],
                        amendments=[amendment("gap", limit={"at_least": least})])  # fmt: skip
        on = ["test/narrow@1", "test/wide@1"]
        return edition(rulebook(name="test/county@1", based_on=on), narrow, wide, BASE)

    assert differences(county("6 in"), county("6 in")).is_empty
    (changed,) = differences(county("6 in"), county("7 in")).told
    assert [each.phrase for each in rule_told(changed)] == ["at least 6 in → at least 7 in"]


def test_the_source_is_told_no_longer_than_it_takes() -> None:
    """Of a new edition of the same section, document and edition are told; a new section whole."""

    def on(edition_: str, section: str) -> Edition:
        text = json.loads(rulebook(gap(), name="test/house@1"))
        text["sources"]["us"] = {
            "basis": "published", "document": "Roof Code", "edition": edition_, "section": section,
        }  # fmt: skip
        return edition(json.dumps(text))

    (newer,) = differences(on("2021", "R1"), on("2024", "R1")).told
    assert [each.phrase for each in rule_told(newer)] == ["Roof Code 2021 → Roof Code 2024"]
    assert newer.strictness is WORDING
    (moved,) = differences(on("2021", "R1"), on("2024", "R2")).told
    assert [each.phrase for each in rule_told(moved)] == ["Roof Code 2021, R1 → Roof Code 2024, R2"]


LINING = {"dimension": "length", "measure": "edge to edge", "ask": "How wide?", "on": "line"}
HALF = {"dimension": "length", "measure": "half of it", "product": ["station.lining", "1:2"]}


def test_a_computed_fact_that_changed_changes_its_rules() -> None:
    """Rules that rest on a fact computed otherwise are different in kind, though worded alike."""
    ruled = gap(id="half", of="station.lining_half", limit={"at_least": "2 in"})
    third = {**HALF, "product": ["station.lining", "1:3"]}

    def house(name: str, half: dict[str, Any]) -> Edition:
        facts = {"station.lining": LINING}
        derive = {"station.lining_half": half}
        return edition(rulebook(ruled, gap(), name=name, facts=facts, derive=derive))

    found = differences(house("test/house@1", HALF), house("test/house@2", third))
    (changed,) = found.told
    assert changed.facts == ("station.lining_half",)
    assert changed.strictness is DIFFERENT
    (fact,) = found.facts
    assert (fact.kind, fact.may_decide, fact.fields) == (Kind.CHANGED, True, ("expression",))
    assert fact.rules == ("test/house#half",)
    assert [each.phrase for each in fact_told(fact)] == [
        "product of station.lining, 1:2 → product of station.lining, 1:3"
    ]
    worded = {**HALF, "measure": "half the lining"}
    wording = differences(house("test/house@1", HALF), house("test/house@2", worded))
    assert [each.fields for each in wording.facts] == [("measure",)]
    assert not wording.told


def test_a_limit_on_a_fact_of_another_kind_is_no_comparison() -> None:
    """Where a fact is no longer the same kind of value, its limits are different in kind."""
    counted = {**LINING, "dimension": "count", "measure": "number of linings"}
    found = differences(
        edition(rulebook(gap(of="station.lining", limit={"at_least": "2 in"}),
                         facts={"station.lining": LINING})),
        edition(rulebook(gap(of="station.lining", limit={"at_least": 3}),
                         facts={"station.lining": counted})),
    )  # fmt: skip
    (changed,) = found.told
    assert [(part.field, part.strictness) for part in changed.parts] == [
        ("facts", DIFFERENT),
        ("limit", DIFFERENT),
    ]
    (fact,) = found.facts
    assert fact.fields == ("dimension", "least", "greatest", "measure")


def test_brackets_round_conditions_say_nothing() -> None:
    """A condition in brackets within another that joins the same way is the same condition."""
    flat = gap(when={"all_of": [HIP, {"line.vented": "no"}, {"line.flashed": "yes"}]})
    nested = {"all_of": [{"line.flashed": "yes"}, {"all_of": [{"line.vented": "no"}, HIP]}]}
    assert between(flat, gap(when=nested)).is_empty
    either = {"any_of": [{"line.flashed": "yes"}, {"all_of": [{"line.vented": "no"}, HIP]}]}
    assert not between(flat, gap(when=either)).is_empty


def test_a_computed_table_and_an_input_are_told_by_what_changed() -> None:
    """Of a fact looked up in a table the rows are told, of a computation its inputs."""

    def house(least: str, divisor: int) -> Edition:
        by = {
            "dimension": "length", "measure": "by the covering",
            "table": {"by": "roof.covering", "rows": [
                {"for": "natural slate", "value": least}, {"for": "clay tile", "value": "3 in"},
            ]},
        }  # fmt: skip
        area = {
            "dimension": "area", "measure": "needed", "reckon": "required free area",
            "with": {"vented area": "attic.vented_area", "divisor": divisor},
        }  # fmt: skip
        derive = {"roof.lap_needed": by, "attic.needed": area}
        return edition(rulebook(gap(), derive=derive))

    found = differences(house("4 in", 150), house("5 in", 300))
    told = {each.fact.full_name: fact_told(each) for each in found.facts}
    (inputs,) = told["attic.needed"]
    assert (inputs.label, inputs.phrase) == ("divisor", "150 → 300")
    (looked,) = told["roof.lap_needed"]
    assert [(row.where, row.was, row.now) for row in looked.rows] == [
        ("natural slate", "4 in", "5 in")
    ]
    assert not found.told  # no rule rests on either


def test_declared_facts_are_told() -> None:
    """Facts added, gone and redeclared are told; how a fact is asked for decides nothing."""
    asked = {**LINING, "ask": "How wide is it?"}
    ranged = {**LINING, "greatest": "12 in"}
    found = differences(
        edition(rulebook(gap(), facts={"station.lining": LINING, "station.old": LINING})),
        edition(rulebook(gap(), facts={"station.lining": asked, "station.new": LINING})),
    )
    told = {each.fact.full_name: (each.kind, each.may_decide) for each in found.facts}
    assert told == {
        "station.lining": (Kind.CHANGED, False),
        "station.new": (Kind.ADDED, False),
        "station.old": (Kind.GONE, False),
    }
    (narrowed,) = differences(
        edition(rulebook(gap(), facts={"station.lining": LINING})),
        edition(rulebook(gap(), facts={"station.lining": ranged})),
    ).facts
    assert (narrowed.fields, narrowed.may_decide) == (("greatest",), True)
    assert [each.phrase for each in fact_told(narrowed)] == ["1000 ft → 12 in"]


def test_coverages_are_told() -> None:
    """Conditions that came and went are told, and coverages; their order says nothing."""

    def covered(*coverages: dict[str, Any]) -> Edition:
        rules = (gap(), gap(id="plain", limit={"at_most": "9 in"}, title="Plain"))
        return edition(rulebook(*rules, coverages=list(coverages)))

    def wind(*conditions: object, **more: object) -> dict[str, Any]:
        whole = {"id": "wind", "title": "Stays on", "evidence": "photos"}
        return whole | {"conditions": {"all_of": list(conditions)}} | more

    either, plain = {"any_of": ["gap", "plain"]}, "test/house#plain (Plain)"
    same = differences(covered(wind("gap", "plain")), covered(wind("plain", "gap")))
    assert same.is_empty
    (changed,) = differences(
        covered(wind("gap", isolated_allowed=1)),
        covered(wind("plain", either, evidence="a letter")),
    ).coverages
    assert [(each.label, each.phrase) for each in coverage_told(changed)] == [
        ("evidence", "photos → a letter"),
        ("isolated faults that do not decide", "1 → 0"),
        (
            "now depends on",
            f"{plain}; any of: test/house#gap (gap holds); {plain}",
        ),
        ("no longer depends on", "test/house#gap (gap holds)"),
    ]
    assert [each.kind for each in differences(covered(), covered(wind("gap"))).coverages] == [
        Kind.ADDED
    ]
    assert [each.kind for each in differences(covered(wind("gap")), covered()).coverages] == [
        Kind.GONE
    ]
    loosened = wind() | {"conditions": {"any_of": ["gap", "plain"]}}
    (turned,) = differences(covered(wind("gap", "plain")), covered(loosened)).coverages
    assert turned.fields == ("conditions",)
    assert "any of: test/house#gap" in coverage_told(turned)[0].phrase


def test_the_rulebook_itself_is_told() -> None:
    """Title, authority, dates in force, scope and note of the rulebooks are told."""
    old = edition(rulebook(gap(), authority="A", in_force={"from": "2026-01-01"},
                           in_force_by="permit", scope={"covering": "clay tile"}))  # fmt: skip
    wide = {"covering": {"one_of": ["clay tile", "wood shake"]}}
    new = edition(rulebook(gap(), authority="B", in_force={"from": "2027-01-01"},
                           in_force_by="permit", note="Read me.", scope=wide))  # fmt: skip
    found = differences(old, new)
    assert set(found.book) == {"authority", "in_force", "scope", "note"}
    told = " ".join(page(found).split())
    assert "authority A → B" in told
    assert "from 2026-01-01, by the permit date → from 2027-01-01, by the permit date" in told
    assert "written for roof covering is clay tile → roof covering is clay tile or wood" in told
    (wider,) = found.told
    assert [(part.field, part.strictness) for part in wider.parts] == [("book scope", STRICTER)]


@pytest.mark.parametrize("name", SHIPPED)
def test_a_rulebook_against_itself_has_no_difference(name: str) -> None:
    """Read twice and compared, every shipped rulebook is the same, rule by rule."""
    found = differences(shipped(name), shipped(name))
    assert found.is_empty
    assert found.rules
    assert not any(each.has_other_cases for each in found.rules)
    assert found.strictness is WORDING


@pytest.mark.parametrize(("old", "new"), [(SHIPPED[0], SHIPPED[1]), (SHIPPED[2], SHIPPED[3])])
def test_shipped_rulebooks_turned_round(old: str, new: str) -> None:
    """With old and new exchanged what was stricter is looser, and what was added is gone."""
    turned_kinds = {Kind.ADDED: Kind.GONE, Kind.GONE: Kind.ADDED}
    there, back = (
        {each.check.rule.full_id: each for each in found.told}
        for found in (
            differences(shipped(old), shipped(new)),
            differences(shipped(new), shipped(old)),
        )
    )
    assert there.keys() == back.keys()
    for name, found in there.items():
        assert back[name].strictness is TURNED[found.strictness]
        assert back[name].kind is turned_kinds.get(found.kind, found.kind)


def test_the_order_of_rules_says_nothing() -> None:
    """However a file orders its rules, what is told is the same, in the same order."""
    rules = [gap(id=f"r{n}", limit={"at_least": f"{n + 1} in"}) for n in range(9)]
    changed = [gap(id=f"r{n}", limit={"at_least": f"{n + 1 + n % 3} in"}) for n in range(2, 11)]
    told = set()
    for seed in range(6):
        draw = random.Random(seed)
        draw.shuffle(rules)
        draw.shuffle(changed)
        found = differences(edition(rulebook(*rules)), edition(rulebook(*changed)))
        data = json.loads(differences_data(found))
        for each in data["rules"]:
            del each["written_at"]
        told.add(json.dumps(data["rules"]))
        assert len(data["rules"]) == 9  # two went, two came, five changed
    assert len(told) == 1


HOSTILE = "[red]x[/red] <script>alert(1)</script> | `c` *b* \"q\" 'a' \\n {{y}} \u202e \u2028"


def test_hostile_words_stay_words() -> None:
    """Brackets, tags, quotes and turned writing in a rulebook are shown as what they are."""
    words = HOSTILE.replace("\u2028", "")
    old = gap(title=words, why=words, remedy=words)
    new = gap(title=f"{words}!", why=f"{words}!", limit={"at_least": "4 in"})
    found = between(old, new, authority=words)
    text = page(found)
    assert "\u202e" not in text
    assert "[red]x[/red]" in text
    markdown = as_markdown(differences_sheet(found))
    assert "<script>" not in markdown
    data = json.loads(differences_data(found))
    assert data["rules"][0]["title"] == f"{words}!"
    assert "\u202e" not in differences_data(found)


def page(found: Differences, width: int = 80) -> str:
    """Return the page of differences as text."""
    return as_text(differences_sheet(found), Page(width=width, colour=False, unicode=True))


def test_no_line_is_wider_than_the_page() -> None:
    """At 80 and at 120 columns every line fits."""
    found = differences(shipped("demo/tarn-county@2026-04"), shipped("demo/tarnfell-slate@2026-01"))
    for width in (80, 120):
        assert max(map(len, page(found, width).splitlines())) <= width


CODE_PAGE = """\
What changed: code/model-residential, edition 2021 → 2024
────────────────────────────────────────────────────────────────────────────────
old      code/model-residential@2021: Model residential code, steep-slope roofs
file     rulebooks/code/model-residential@2021.yaml
SHA-256  {old}
new      code/model-residential@2024: Model residential code, steep-slope roofs
file     rulebooks/code/model-residential@2024.yaml
SHA-256  {new}

IN SHORT
stricter           none
looser             2 rules: 1 gone, 1 changed
different in kind  none
wording only       25 rules changed
unchanged          none
other cases        1 rule; cases are not told here

Stricter and looser are told of roofs where every fact that the rules ask for is
known. Where one is not, a stricter rule can leave open what was settled, and
settle what was open.

THE RULEBOOK ITSELF
note, now  A model code holds only where it is adopted: name this edition in the
           record or in a local rulebook. It differs from the 2021 edition here
           in two things, both recalled: the ice barrier's length along steep
           slopes is no longer asked for, and ASTM D8257 underlayment is named.
           Every section and figure is recalled and must be confirmed against
           the edition in force. The wording is ours.

LOOSER
Better for some roofs, and worse for none.

underlayment-standard: The underlayment meets a standard named for the covering
  rule     code/model-residential#underlayment-standard
  must be  2 rows of a table, told below
  source   International Residential Code 2021 (recalled) → International
           Residential Code 2024 (recalled)

  roof covering    was                                           is now
  ──────────────────────────────────────────────────────────────────────────────
  asphalt shingle  D226 type I, D226 type II, D1970, D4869 or    those and D8257
                   D6757

  natural slate    D226 type I, D226 type II, D1970 or D4869     those and D8257

ice-barrier-up: At 8:12 and over the ice barrier reaches at least 36 in up the
slope (gone)
  rule           code/model-residential#ice-barrier-up
  demands        plane ice barrier up must be at least 36 in
  judged at      each plane
  applies where  roof ice dams is yes and plane ice barrier is yes and plane
                 slope is at least 8:12
  written for    roof building is dwelling, townhouse or outbuilding; roof
                 covering is asphalt shingle, metal shingle, natural slate, wood
                 shingle or wood shake
  class          major
  shown by       measured, cap lifted, photo during work or document
  why            On a steep slope 24 in inside the wall can be little along the
                 slope.
  source         International Residential Code 2021, R905.1.2 (recalled,
                 confirm against the document); confirm against the edition in
                 force; composite slate is not named there, and detached
                 outbuildings without conditioned floor are excepted, which a
                 local rulebook can say

WORDING ONLY
No roof comes out otherwise.

25 rules, changed alike
  source  International Residential Code 2021 (recalled) → International
          Residential Code 2024 (recalled)
  rules   air-over-insulation, cricket, drip-edge, drip-edge-back,
          drip-edge-below, drip-edge-lap, drip-edge-spacing, free-area,
          free-area-balance, ice-barrier, ice-barrier-inside,
          instructions-at-hand, instructions-followed, least-slope,
          opening-flashed, opening-flashing-thickness, shingle-nail-depth,
          shingle-nail-head, shingle-nail-metal, shingle-nail-shank,
          shingle-nails, slate-two-fasteners, vent-openings, wall-flashed,
          wall-flashing-thickness

WHAT THIS PAGE IS
Two rulebooks held against each other, in words made from their files. Which of
them is in force for a roof is not asked here. What every report says of itself
goes for this page too: This is an inspection record held against the rulebooks
named in it. It is no certificate, no warranty and no approval. Where it differs
from the local code, the authority having jurisdiction or licensed practice,
they govern. Values marked as recalled must be confirmed against the document
they are from. What is not verified has not passed.
"""


def test_the_code_of_2021_against_2024() -> None:
    """The page of what the model code changed from 2021 to 2024, whole, at 80 columns."""
    old, new = shipped("code/model-residential@2021"), shipped("code/model-residential@2024")
    digests = (each.book.document.digest for each in (old, new))
    expected = CODE_PAGE.format(**dict(zip(("old", "new"), digests, strict=True)))
    assert page(differences(old, new)) == expected

"""The starting file of a local rulebook: what it stands on, and all it could change, switched off.

Two marks (`##`) begin an explanation; one mark and a space (`# `) switch a line off. Taking the
latter from every line of a piece leaves YAML that loads, so nobody has to write any to begin.
"""

from __future__ import annotations

import textwrap
from collections import Counter
from typing import TYPE_CHECKING

import yaml
from msgspec import Struct

from ridgerule.reports.sheet_words import demand, sourced
from ridgerule.reports.visible import visible

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Sequence

    from ridgerule.audit.plan import Check, Edition
    from ridgerule.documents import Data

SCHEMA = "rulebook.schema.json"
"""The file beside it that editors complete it from."""
OFF, TOLD = "# ", "## "
_WIDTH = 98
_DEEPEST = 6
"""How far a key is indented at the most, its mark counted."""
_FACT, _RULE = "line.gutter_guard", "deck-of-wood"
"""What the examples are called, unless a base has it."""


class Starter(Struct, frozen=True):
    """What a local rulebook begins with."""

    id: str
    edition: str
    title: str
    authority: str
    bases: tuple[Edition, ...]
    first_day: str
    """Day it is in force from, as year-month-day."""
    file: str
    """The name of its file."""


def starter_text(starter: Starter) -> str:
    """Return the text of the file; as it is, it changes nothing in its bases."""
    parts = (
        _opening(starter),
        _head(starter),
        _in_force(starter),
        _scope(starter.bases),
        _sources(),
        _facts(starter.bases),
        _rules(starter.bases),
        _withdrawals(starter.bases),
        _amendments(starter.bases),
    )
    return "\n\n".join("\n".join(part) for part in map(tuple, parts) if part) + "\n"


def _opening(starter: Starter) -> Iterator[str]:
    yield f"# yaml-language-server: $schema=./{SCHEMA}"
    yield "##"
    yield from _told(
        "A local rulebook. It holds every rule of the rulebooks it stands on, and whatever is "
        "changed, taken away or added here."
    )
    yield "##"
    yield from _told("A line that begins with two marks (##) explains. Delete it when it is read.")
    yield from _told(
        "A line that begins with one mark and a space is switched off. To switch a piece on, take "
        "the mark and that one space away from each of its lines, and leave the spaces after them "
        "as they are. Then change its words and figures."
    )
    yield from _told(
        "Readings are written as on the roof: 3 1/16 in, 2 ft 4 1/2 in, 78 mm, 30 deg; a slope in "
        'quotes: "7:12".'
    )
    yield from _told(f"To read what it says in plain words: ridgerule book show {starter.file}")


def _head(starter: Starter) -> Iterator[str]:
    yield from _yaml("rulebook", starter.id)
    yield from _yaml("title", starter.title)
    yield from _yaml("edition", starter.edition)
    yield from _yaml("authority", starter.authority)
    yield from _told("The rulebooks it stands on, each with its edition:")
    yield "based_on:"
    yield from (f"  - {edition.book.name}" for edition in starter.bases)


def _in_force(starter: Starter) -> Iterator[str]:
    yield from _told(
        "From which day it is in force, and which date of a roof's record decides that: permit, "
        "installation, registration or inspection. Switch on both lines, or neither."
    )
    yield from _off(_yaml("in_force", {"from": starter.first_day}))
    yield from _off(_yaml("in_force_by", "permit"))


def _scope(bases: Sequence[Edition]) -> Iterator[str]:
    scopes: dict[str, Data] = {}
    for edition in bases:
        scope = edition.book.scope
        for key, limit in scope.data.items() if scope and isinstance(scope.data, dict) else ():
            scopes.setdefault(key, limit)
    if not scopes:
        return
    yield from _told(
        "What it is written for. The rulebooks it stands on say this, and their own rules keep to "
        "it; switched on, it holds for everything in this file too."
    )
    yield from _off(_yaml("scope", dict(scopes)))


def _sources() -> Iterator[str]:
    yield from _told(
        "Where changes come from, so that anyone can go and read it. Each source has a name of "
        "yours, such as `local`, that changes and rules refer to. Its basis is one of: published, "
        "common practice, firm policy, manufacturer, invented. A published one needs its "
        "`document` and its `edition`."
    )
    yield "sources:"
    yield "  local:"
    yield "    basis: firm policy"
    yield "    document: (fill in) the paper that says so"
    yield "    section: (fill in) where in that paper"


def _facts(bases: Sequence[Edition]) -> Iterator[str]:
    known = {name for edition in bases for name in edition.vocabulary.by_name}
    yield from _told(
        "Facts of your own: something to measure or to look at that no rulebook has yet. The name "
        "begins with what it is about (roof, plane, line, station, joint, opening, wall, attic, "
        "delivery or sample). The dimension is length, area, slope, angle, temperature, count, "
        "share, yes or no, choice, text or date. `ridgerule book facts` lists those there are."
    )
    yield from _off(
        (
            "facts:",
            f"  {_free(_FACT, known)}:",
            "    dimension: yes or no",
            "    measure: a guard keeps leaves out of the gutter below the line",
            "    ask: Is there a guard on the gutter?",
        )
    )


def _rules(bases: Sequence[Edition]) -> Iterator[str]:
    taken = {check.rule.id for edition in bases for check in edition.checks}
    yield from _told(
        "Rules of your own. `of` is the fact judged, `when` says where the rule applies, `limit` "
        "what must hold: at_least, at_most, between, equal_to, one_of, present, absent and more. "
        "The class is critical, major or minor. Cases show it passing and failing."
    )
    yield from _off(
        (
            "rules:",
            f"  - id: {_free(_RULE, taken)}",
            "    title: The deck is of plywood or boards",
            "    of: plane.deck",
            "    limit: {one_of: [plywood, boards]}",
            "    class: minor",
            "    why: (fill in) why it matters",
            "    remedy: (fill in) what puts it right",
            "    source: local",
            "    cases:",
            "      - {given: {plane.deck: plywood}, expect: pass}",
            "      - {given: {plane.deck: oriented strand board}, expect: fail}",
            "      - {given: {plane.deck: unknown}, expect: not verified}",
        )
    )


def _withdrawals(bases: Sequence[Edition]) -> Iterator[str]:
    names = _names(bases)
    loose = [
        names[check.lineage]
        for edition in bases
        for check in edition.checks
        if check.lineage in names and not _is_fixed(check)
    ]
    if not loose:
        return
    yield from _told(
        "Rules taken away. Put the id of the rule here; `permitted_by` names who allows it, and in "
        "which letter or order."
    )
    yield from _off(
        (
            "withdrawals:",
            f"  - rule: {loose[-1]}",
            "    reason: (fill in) why it is taken away",
            "    source: local",
            "    permitted_by: (fill in) authority and letter",
        )
    )


def _amendments(bases: Sequence[Edition]) -> Iterator[str]:
    names = _names(bases)
    yield from _told(
        "Changes to rules. Switch on the line `amendments:` once, and the rules you change. Say "
        "why, change the limit, and the title with it; leave out what stays as it is. You can also "
        "change: when, scope, class, evidence, stations, aim, why, remedy and cases. The cases of "
        "the old rule still stand, so give new ones where the limit moves. A change that lets more "
        "pass needs one line more, `permitted_by:`, with who allows it and in which letter or "
        "order."
    )
    yield f"{OFF}amendments:"
    told: set[tuple[str, str, tuple[str, ...]]] = set()
    for edition in bases:
        yield ""
        yield from _told(f"==== {edition.book.name}: {edition.book.title}")
        for check in edition.checks:
            if check.lineage not in told:
                told.add(check.lineage)
                yield ""
                yield from _stub(check, names.get(check.lineage, ""))


def _stub(check: Check, name: str) -> Iterator[str]:
    """Yield a rule as it stands, and the lines that would change it; none without a name."""
    rule = check.rule
    yield from _told(f"{rule.full_id}: {rule.text('title')}")
    yield from _told(f"now: {demand(check)}")
    amended = "".join(f"; amended by {change.book}" for change in rule.changes)
    yield from _told(f"class: {rule.severity}; source: {sourced(rule.source)}{amended}")
    if _is_fixed(check):
        yield from _told("It may be made stricter, never looser.")
    if not name:
        yield from _told("Two of the rulebooks have it in two forms: stand on one of them.")
        return
    stub: dict[str, Data] = {
        "rule": name,
        "reason": "(fill in) why it is changed",
        "source": "local",
        "title": rule.text("title"),
        "limit": rule.fields["limit"].data,
    }
    lines = [line for key, value in stub.items() for line in _yaml(key, value)]
    yield f"{OFF}  - {lines[0]}"
    yield from _off(f"    {line}" for line in lines[1:])


def _names(bases: Sequence[Edition]) -> dict[tuple[str, str, tuple[str, ...]], str]:
    """Return what an amendment calls each rule: its id, or its full id where two bases have it.

    A rule that two bases have in two forms has no name, since an amendment can't say which.
    """
    rules = {check.lineage: check.rule for edition in bases for check in edition.checks}
    ids = Counter(rule.id for rule in rules.values())
    full = Counter(rule.full_id for rule in rules.values())
    return {
        identity: rule.id if ids[rule.id] == 1 else rule.full_id
        for identity, rule in rules.items()
        if full[rule.full_id] == 1
    }


def _is_fixed(check: Check) -> bool:
    field = check.rule.fields.get("may_be_loosened")
    return field is not None and field.data is False


def _free(name: str, taken: set[str]) -> str:
    """Return a name that is not taken, the one given where it can be."""
    if name not in taken:
        return name
    joint = "_" if "." in name else "-"
    numbered = (f"{name}{joint}{i}" for i in range(2, len(taken) + 3))
    return next(free for free in numbered if free not in taken)


def _told(words: str) -> Iterator[str]:
    """Yield words as lines of explanation."""
    shown = visible(words)
    for line in textwrap.wrap(shown, _WIDTH - len(TOLD), break_on_hyphens=False):
        yield f"{TOLD}{line}"


def _off(lines: Iterable[str]) -> Iterator[str]:
    """Yield lines of YAML switched off."""
    return (f"{OFF}{line}" for line in lines)


def _yaml(key: str, value: Data) -> Iterator[str]:
    """Yield a key with its value as lines of YAML, what holds only words and figures on one."""
    text = _dumped({key: value}, in_ascii=False)
    if not all(map(str.isprintable, text.splitlines())):  # what can't be seen is spelt out
        text = _dumped({key: value}, in_ascii=True)
    yield from text.splitlines()


def _dumped(data: dict[str, Data], *, in_ascii: bool) -> str:
    (value,) = data.values()
    return yaml.dump(
        data,
        Dumper=_Plain,
        default_flow_style=None if isinstance(value, (dict, list)) else False,
        sort_keys=False,
        allow_unicode=not in_ascii,
        width=_WIDTH - _DEEPEST,
    )


class _Plain(yaml.SafeDumper):
    """Writes what our own reader takes: no anchors."""

    def ignore_aliases(self, data: object) -> bool:
        """Write everything in full, however often it stands there."""
        del data
        return True

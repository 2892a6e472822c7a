"""One rulebook file as frozen values; every field keeps the file and line it came from.

A rule's limit and conditions stay plain data here: they can be read only once the facts of the
rulebook, of its bases and of the engine are known, which is the compiler's work.
"""

from __future__ import annotations

import re
from dataclasses import replace
from enum import StrEnum
from types import MappingProxyType
from typing import TYPE_CHECKING, TypeVar

from msgspec import Struct

from ridgerule.enclosures import compare
from ridgerule.facts import Element, Fact, Host, How, Plain, read_date, read_graduation, value_range
from ridgerule.plain_data import items_in, mapping_in, words_in
from ridgerule.problems import InputRejected, Location, Problem, shown, suggestion
from ridgerule.quantities import Dimension, Mistake, read
from ridgerule.rulebook_bounds import crowded
from ridgerule.schemas import check
from ridgerule.shipped import proved_digests

if TYPE_CHECKING:
    import datetime as dt
    from collections.abc import Iterator, Mapping

    from ridgerule.documents import Data, Document, Path


class Basis(StrEnum):
    """Where a rule comes from."""

    PUBLISHED = "published"
    COMMON_PRACTICE = "common practice"
    FIRM_POLICY = "firm policy"
    MANUFACTURER = "manufacturer"
    INVENTED = "invented"


class Severity(StrEnum):
    """Class of a nonconformity, in the sense of ISO 2859-1: what breaking the rule amounts to."""

    CRITICAL = "critical"
    MAJOR = "major"
    MINOR = "minor"


class DateKind(StrEnum):
    """The date of the record that picks the edition in force."""

    PERMIT = "permit"
    INSTALLATION = "installation"
    REGISTRATION = "registration"
    INSPECTION = "inspection"


class DecisionRule(StrEnum):
    """How a reading is held against its limit (ILAC-G8 sense)."""

    SIMPLE = "simple acceptance"
    GUARDED = "guarded acceptance"


class Source(Struct, frozen=True):
    """Where a rule comes from, so that anyone can go and read it."""

    basis: Basis
    document: str = ""
    edition: str = ""
    section: str = ""
    note: str = ""
    recalled: bool = False
    """The value is from memory and must be confirmed against the document."""


class Field(Struct, frozen=True):
    """One field of a rule: its plain data, where it stands, which rulebook wrote it."""

    data: Data
    document: Document
    path: Path
    book: str

    @property
    def location(self) -> Location:
        """The field's line and column."""
        return self.document.location(self.path)

    def at(self, *more: str | int) -> Location:
        """Return the line and column of a node inside the field."""
        return self.document.location((*self.path, *more))


class Change(Struct, frozen=True):
    """An amendment or a withdrawal: what a local rulebook does to a rule it is based on."""

    rule: str
    """The rule's id, or `rulebook#id` where two bases have it."""
    fields: Mapping[str, Field]
    reason: str
    source: Source
    book: str
    location: Location
    withdraws: bool = False
    permitted_by: str = ""


class Rule(Struct, frozen=True):
    """A requirement on one fact, with the chain of changes made to it."""

    id: str
    book: str
    """The rulebook that first wrote it, as `id@edition`."""
    fields: Mapping[str, Field]
    source: Source
    location: Location
    changes: tuple[Change, ...] = ()
    scopes: tuple[Field, ...] = ()
    """What each rulebook on the way to here is written for; all must hold."""
    guarded: bool = False
    """Whether a rulebook on the way to here counts uncertainty for its rules."""

    @property
    def full_id(self) -> str:
        """The rule as reports name it: `rulebook#id`, without the edition."""
        return f"{self.book.split('@')[0]}#{self.id}"

    def text(self, field: str) -> str:
        """Return a field of plain words, or an empty string."""
        found = self.fields.get(field)
        return str(found.data) if found and isinstance(found.data, (str, int)) else ""

    @property
    def severity(self) -> Severity:
        """The rule's class."""
        return Severity(self.text("class"))


class Coverage(Struct, frozen=True):
    """A warranty coverage and the conditions it depends on."""

    id: str
    title: str
    conditions: Field
    evidence: str
    isolated_allowed: int


class InForce(Struct, frozen=True):
    """The days from and to which an edition is in force, both counted; None is open."""

    first: dt.date | None = None
    last: dt.date | None = None

    def covers(self, day: dt.date) -> bool:
        """Is the edition in force on `day`?"""  # noqa: D400 - a question, as booleans are
        return (self.first is None or self.first <= day) and (self.last is None or day <= self.last)

    def __str__(self) -> str:
        first = f"from {self.first}" if self.first else ""
        last = f"to {self.last}" if self.last else ""
        return " ".join(filter(None, (first, last))) or "always"


class Rulebook(Struct, frozen=True):
    """A rulebook as its file has it, before its bases are laid under it."""

    id: str
    edition: str
    title: str
    document: Document
    based_on: tuple[tuple[str, Location], ...] = ()
    scope: Field | None = None
    in_force: InForce = InForce()
    in_force_by: DateKind | None = None
    authority: str = ""
    decision_rule: DecisionRule | None = None
    """How readings near a limit are decided; None leaves it to its bases, or simple."""
    facts: tuple[Fact, ...] = ()
    derive: tuple[tuple[str, Field], ...] = ()
    """Computed facts by full name; how, stays plain data until the facts are known."""
    rules: tuple[Rule, ...] = ()
    changes: tuple[Change, ...] = ()
    coverages: tuple[Coverage, ...] = ()
    note: str = ""

    @property
    def name(self) -> str:
        """`id@edition`."""
        return f"{self.id}@{self.edition}"


def age(edition: str) -> tuple[tuple[int, int, str], ...]:
    """Return what puts editions in order: numbers by their size, whatever is between as it reads.

    So edition 10 comes after edition 9, and 2026-04 after 2025-11.
    """
    parts = re.findall(r"[0-9]+|[^0-9]+", edition, re.ASCII)
    return tuple((1, int(part), "") if part.isdigit() else (0, 0, part) for part in parts)


CHANGEABLE = frozenset(
    {
        "title", "when", "limit", "aim", "class", "stations", "evidence",
        "why", "remedy", "cases", "scope", "decision_rule",
    }
)  # fmt: skip
"""The fields of a rule that an amendment may replace."""

RULE_FIELDS = CHANGEABLE | {"of", "at", "on", "may_be_loosened"}

_Kind = TypeVar("_Kind", bound=StrEnum)


def read_rulebook(document: Document) -> Rulebook:
    """Return the rulebook in `document`.

    Raises `InputRejected` with every problem that the file alone can show, or with those of
    headings too full for the rest to be looked at.
    """
    proved = document.digest in proved_digests()
    if not proved and (full := tuple(crowded(document))):
        raise InputRejected(full)
    structural = () if proved else check(document, "rulebook")
    if not isinstance(document.data, dict):
        raise InputRejected(structural)
    reader = _Reader(document, document.data)
    book = reader.rulebook()
    told = {problem.location for problem in structural}
    problems = (*structural, *(p for p in reader.problems if p.location not in told))
    if problems:
        raise InputRejected(problems)
    return book


def _member(kind: type[_Kind], data: Data) -> _Kind | None:
    """Return the member of a closed list that `data` names; the schema tells of any other."""
    return next((member for member in kind if member.value == data), None)


class _Reader:
    """Reads one rulebook; keeps the problems it meets so that all are told at once."""

    def __init__(self, document: Document, data: dict[str, Data]) -> None:
        self.document = document
        self.data = data
        self.problems: list[Problem] = []
        self.id = words_in(data.get("rulebook"))
        self.edition = words_in(data.get("edition"))
        self.name = f"{self.id}@{self.edition}"
        self.sources = {
            name: self.source(mapping_in(raw), ("sources", name))
            for name, raw in mapping_in(data.get("sources")).items()
        }

    def rulebook(self) -> Rulebook:
        based_on = tuple(
            (words_in(name), self.document.location(("based_on", i)))
            for i, name in enumerate(items_in(self.data.get("based_on")))
        )
        in_force_by = _member(DateKind, self.data.get("in_force_by"))
        if self.data.get("in_force") and not in_force_by:
            dates = ", ".join(f"`{kind}`" for kind in DateKind)
            self.tell(("in_force",), f"`in_force_by` beside it, one of {dates}", "none", "")
        return Rulebook(
            id=self.id,
            edition=self.edition,
            title=words_in(self.data.get("title")),
            document=self.document,
            based_on=based_on,
            scope=self.field(("scope",)),
            in_force=self.in_force(),
            in_force_by=in_force_by,
            authority=words_in(self.data.get("authority")),
            decision_rule=_member(DecisionRule, self.data.get("decision_rule")),
            facts=tuple(self.facts()),
            derive=tuple(self.derived()),
            rules=tuple(self.rules()),
            changes=(*self.changes("amendments"), *self.changes("withdrawals")),
            coverages=tuple(self.coverages()),
            note=words_in(self.data.get("note")),
        )

    def field(self, path: Path) -> Field | None:
        data: Data = self.data
        for step in path:
            match data, step:
                case dict(), str() if step in data:
                    data = data[step]
                case list(), int():
                    data = data[step]
                case _:
                    return None
        return Field(data, self.document, path, self.name)

    def source(self, raw: dict[str, Data], path: Path) -> Source:
        source = Source(
            basis=_member(Basis, raw.get("basis")) or Basis.FIRM_POLICY,
            document=words_in(raw.get("document")),
            edition=words_in(raw.get("edition")),
            section=words_in(raw.get("section")),
            note=words_in(raw.get("note")),
            recalled=raw.get("recalled") is True,
        )
        if source.basis is Basis.PUBLISHED and not (source.document and source.edition):
            told = "a `published` source with its `document` and `edition`"
            lacking = [key for key in ("document", "edition") if not raw.get(key)]
            found = f"no {' and no '.join(f'`{key}`' for key in lacking)}"
            self.tell(path, told, found, "add it, or choose another `basis`")
        return source

    def sourced(self, raw: Data, path: Path) -> Source:
        name = words_in(raw)
        if name in self.sources:
            return self.sources[name]
        advice = suggestion(name, self.sources) or "add it under `sources:`"
        if name:
            self.tell(path, "the name of a source in this file", f"`{shown(name)}`", advice)
        return Source(Basis.FIRM_POLICY)

    def in_force(self) -> InForce:
        raw = mapping_in(self.data.get("in_force"))
        days = {}
        for key in ("from", "to"):
            found = read_date(raw[key]) if key in raw else None
            if isinstance(found, Mistake):
                self.tell(("in_force", key), found.expected, found.found, found.advice)
            else:
                days[key] = found
        first, last = days.get("from"), days.get("to")
        if first and last and last < first:
            self.tell(("in_force", "to"), f"a day not before {first}", f"`{last}`", "")
        return InForce(first, last)

    def rules(self) -> Iterator[Rule]:
        seen: dict[str, Location] = {}
        for i, raw in enumerate(items_in(self.data.get("rules"))):
            data, path = mapping_in(raw), ("rules", i)
            id_ = words_in(data.get("id"))
            where = self.document.location((*path, "id"))
            if id_ in seen:
                self.tell((*path, "id"), "an id of its own", f"`{id_}` again", f"see {seen[id_]}")
            seen.setdefault(id_, where)
            yield Rule(
                id=id_,
                book=self.name,
                fields=self.rule_fields(data, path, RULE_FIELDS),
                source=self.sourced(data.get("source"), (*path, "source")),
                location=where,
            )

    def rule_fields(
        self, data: dict[str, Data], path: Path, names: frozenset[str]
    ) -> Mapping[str, Field]:
        return MappingProxyType(
            {
                name: Field(value, self.document, (*path, name), self.name)
                for name, value in data.items()
                if name in names
            }
        )

    def changes(self, section: str) -> Iterator[Change]:
        for i, raw in enumerate(items_in(self.data.get(section))):
            data, path = mapping_in(raw), (section, i)
            yield Change(
                rule=words_in(data.get("rule")),
                fields=self.rule_fields(data, path, CHANGEABLE),
                reason=words_in(data.get("reason")),
                source=self.sourced(data.get("source"), (*path, "source")),
                book=self.name,
                location=self.document.location((*path, "rule")),
                withdraws=section == "withdrawals",
                permitted_by=words_in(data.get("permitted_by")),
            )

    def coverages(self) -> Iterator[Coverage]:
        seen: dict[str, Location] = {}
        for i, raw in enumerate(items_in(self.data.get("coverages"))):
            data = mapping_in(raw)
            conditions = self.field(("coverages", i, "conditions"))
            if conditions is None:
                continue  # the schema has said so
            id_, where = words_in(data.get("id")), ("coverages", i, "id")
            if id_ in seen:
                self.tell(where, "an id of its own", f"`{id_}` again", f"see {seen[id_]}")
            seen.setdefault(id_, self.document.location(where))
            allowed = data.get("isolated_allowed")
            yield Coverage(
                id=id_,
                title=words_in(data.get("title")),
                conditions=conditions,
                evidence=words_in(data.get("evidence")),
                isolated_allowed=allowed if isinstance(allowed, int) else 0,
            )

    def facts(self) -> Iterator[Fact]:
        for name, raw in mapping_in(self.data.get("facts")).items():
            data, path = mapping_in(raw), ("facts", name)
            dimension = _member(Dimension, data.get("dimension")) or _member(
                Plain, data.get("dimension")
            )
            element = _member(Element, name.split(".")[0])
            if dimension is None or element is None:
                continue  # the schema has said so
            fact = Fact(
                element=element,
                name=name.partition(".")[2],
                dimension=dimension,
                measure=words_in(data.get("measure")),
                ask=words_in(data.get("ask")),
                tool=words_in(data.get("tool")),
                choices=tuple(words_in(choice) for choice in items_in(data.get("choices"))),
                per_side=data.get("per_side") is True,
                host=_member(Host, data.get("on")) or Host.EITHER,
                short_form=How.MEASURED if isinstance(dimension, Dimension) else How.SEEN,
                origin=self.name,
            )
            yield self.graduated(self.ranged(fact, data, path), data, (*path, "graduation"))

    def ranged(self, fact: Fact, data: dict[str, Data], path: Path) -> Fact:
        """Return `fact` with the range its declaration gives; lengths can't be below nothing."""
        said: dict[str, str] = {}
        for key in ("least", "greatest"):
            text = words_in(data.get(key))
            if not text:
                continue
            if not isinstance(fact.dimension, Dimension):
                advice = "take it out"
                self.tell((*path, key), f"`{key}` beside a quantity", f"a {fact.dimension}", advice)
            elif isinstance(found := read(text, fact.dimension), Mistake):
                self.tell((*path, key), found.expected, found.found, found.advice)
            else:
                said[key] = text
        bounds = value_range(fact.dimension, **said)
        if isinstance(bounds, Mistake):
            return fact  # said above
        least, greatest = bounds
        if least and greatest and compare(least.amount, greatest.amount) == 1:
            told = f"a greatest value not below the least, {least.text}"
            where = (*path, "greatest" if "greatest" in said else "least")
            self.tell(where, told, f"`{greatest.text}`", "")
        return replace(fact, least=least, greatest=greatest)

    def graduated(self, fact: Fact, data: dict[str, Data], path: Path) -> Fact:
        """Return `fact` with the graduation that its declaration gives, if it gives one."""
        raw = data.get("graduation")
        found = None if raw is None else read_graduation(raw, fact.dimension)
        if not isinstance(found, Mistake):
            return replace(fact, graduation=found)
        self.tell(path, found.expected, found.found, found.advice)
        return fact

    def derived(self) -> Iterator[tuple[str, Field]]:
        for name in mapping_in(self.data.get("derive")):
            field = self.field(("derive", name))
            if field is not None:
                yield name, field

    def tell(self, path: Path, expected: str, found: str, advice: str) -> None:
        self.problems.append(Problem(self.document.location(path), expected, found, advice))

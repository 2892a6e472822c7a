"""Where a finding's rule comes from: its source, its amendments, the rulebooks it stands in."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

from msgspec import Struct

from ridgerule.canonical import canonical_digest
from ridgerule.rulebook import Basis

if TYPE_CHECKING:
    from collections.abc import Iterator

    from ridgerule.adapt import Adapted
    from ridgerule.audit.findings import Audit
    from ridgerule.documents import Document
    from ridgerule.rulebook import Rule, Source

_BARE_NUMBER = re.compile(r"[0-9][0-9.]*", re.ASCII)
_RECALLED = "recalled, confirm against the document"


class SourceView(Struct, frozen=True):
    """A source and the words it is cited in."""

    basis: str
    document: str
    edition: str
    section: str
    recalled: bool
    note: str
    text: str


class AmendedBy(Struct, frozen=True):
    """One change made to a rule on its way into a rulebook."""

    book: str
    reason: str
    source: SourceView
    permitted_by: str

    @property
    def text(self) -> str:
        """The change in words."""
        permitted = f"; permitted by {self.permitted_by}" if self.permitted_by else ""
        return f"{self.book}: {self.reason} ({self.source.text}{permitted})"


class FieldOrigin(Struct, frozen=True):
    """Which rulebook and which line wrote a field of the rule as it stands."""

    field: str
    book: str
    file: str
    line: int


class Withdrawn(Struct, frozen=True):
    """A rule of a base that a rulebook takes away."""

    rule: str
    reason: str
    source: SourceView
    permitted_by: str


class BookView(Struct, frozen=True):
    """A rulebook that stands behind findings."""

    id: str
    edition: str
    title: str
    authority: str
    digest: str
    """SHA-256 of the raw file."""
    based_on: tuple[str, ...]
    note: str
    """Which date picked the edition; empty where none had to."""
    withdrawn: tuple[Withdrawn, ...]
    document: Document
    """The file as it was read."""

    @property
    def name(self) -> str:
        """`id@edition`."""
        return f"{self.id}@{self.edition}"

    @property
    def canonical_digest(self) -> str:
        """SHA-256 of the file's data as canonical JSON."""
        return canonical_digest(self.document.data)


class AskedBook(Struct, frozen=True):
    """A rulebook as it was asked for, and the editions of it that were at hand."""

    reference: str
    """`id`, or `id@edition`."""
    editions: tuple[str, ...]
    """Each as `id@edition`, oldest first; the record's date picks one of several."""


def source_view(source: Source) -> SourceView:
    """Return a source with the words it is cited in."""
    return SourceView(
        basis=source.basis.value,
        document=source.document,
        edition=source.edition,
        section=source.section,
        recalled=source.recalled,
        note=source.note,
        text=cited(source),
    )


def cited(source: Source) -> str:
    """Return a source in words; a recalled one says that it has to be confirmed."""
    section = source.section
    if _BARE_NUMBER.fullmatch(section):
        section = f"section {section}"
    document = " ".join(filter(None, (source.document, source.edition)))
    place = ", ".join(filter(None, (document, section)))
    if source.basis is Basis.PUBLISHED:
        words = place
    elif place:
        words = f"{source.basis}: {place}"
    else:
        words = "common practice, no source"
        words = words if source.basis is Basis.COMMON_PRACTICE else f"{source.basis}"
    return f"{words} ({_RECALLED})" if source.recalled else words


def amendments(rule: Rule) -> tuple[AmendedBy, ...]:
    """Return the changes made to a rule, the first made first."""
    return tuple(
        AmendedBy(change.book, change.reason, source_view(change.source), change.permitted_by)
        for change in rule.changes
    )


_UNTRACED = frozenset({"cases"})


def field_origins(rule: Rule) -> tuple[FieldOrigin, ...]:
    """Return where each field that a finding rests on was written."""
    return tuple(
        FieldOrigin(name, field.book, field.location.file, field.location.line)
        for name, field in rule.fields.items()
        if name not in _UNTRACED
    )


def books_behind(audit: Audit) -> tuple[BookView, ...]:
    """Return the rulebooks in use and all that they stand on, each once, in the plan's order."""
    notes = {book.edition.book.name: book.note for book in audit.books}
    seen: dict[str, BookView] = {}
    for in_use in audit.books:
        for adapted in _all_under(in_use.edition.adapted):
            name = adapted.book.name
            if name not in seen:
                seen[name] = _book_view(adapted, notes.get(name, ""))
    return tuple(seen.values())


def books_asked(audit: Audit) -> tuple[AskedBook, ...]:
    """Return the rulebooks asked for, in the plan's order, with the editions at hand of each."""
    return tuple(
        AskedBook(planned.reference, tuple(edition.book.name for edition in planned.editions))
        for planned in audit.plan.books
    )


def _all_under(adapted: Adapted) -> Iterator[Adapted]:
    yield adapted
    for base in adapted.bases:
        yield from _all_under(base)


def _book_view(adapted: Adapted, note: str) -> BookView:
    book = adapted.book
    return BookView(
        id=book.id,
        edition=book.edition,
        title=book.title,
        authority=book.authority,
        digest=book.document.digest,
        based_on=tuple(reference for reference, _ in book.based_on),
        note=note,
        withdrawn=tuple(_withdrawn(adapted)),
        document=book.document,
    )


def _withdrawn(adapted: Adapted) -> Iterator[Withdrawn]:
    """Yield the rules that this rulebook itself takes away."""
    for rule in adapted.withdrawn:
        change = rule.changes[-1]
        if change.book == adapted.book.name:
            source = source_view(change.source)
            yield Withdrawn(rule.full_id, change.reason, source, change.permitted_by)

"""Which rule of a second audit is which of the first's, and whether it says the same."""

from __future__ import annotations

from typing import TYPE_CHECKING, TypeAlias

from msgspec import Struct

from ridgerule.audit.expressions import Derivation
from ridgerule.facts import FactRef
from ridgerule.problems import Location

if TYPE_CHECKING:
    from collections.abc import Callable, Hashable, Iterable, Mapping

    from ridgerule.audit.findings import Audit, Finding
    from ridgerule.audit.plan import Check
    from ridgerule.rulebook import Rule, Rulebook


class Question(Struct, frozen=True):
    """One rule, as the rulebooks that it counts in ask it."""

    book: str
    """The rulebook that first wrote it, as `id@edition`."""
    id: str
    changed_by: tuple[str, ...]
    books: tuple[str, ...]

    @property
    def full_id(self) -> str:
        """The rule as reports name it, without the edition."""
        return f"{_id(self.book)}#{self.id}"


class BookPair(Struct, frozen=True):
    """A rulebook at the two visits; an edition is empty where a visit was not held against it."""

    id: str
    then: str
    now: str
    same_file: bool

    @property
    def differs(self) -> bool:
        """Did the two visits meet different rules under this name."""
        return not self.same_file


_Way: TypeAlias = "Callable[[Question], Hashable]"


def question_of(rule: Rule, finding: Finding) -> Question:
    """Return the question that a finding answers."""
    changed_by = tuple(change.book for change in rule.changes)
    return Question(rule.book, rule.id, changed_by, finding.books)


def same_questions(
    first: Iterable[Question], second: Iterable[Question]
) -> Mapping[Question, Question]:
    """Return which question of the second audit is which of the first's, the likest first.

    The form (who amended it) and the rulebooks it counts in go before the bare id; editions are
    left aside where no edition is the same. What could be two of them is none.
    """
    found: dict[Question, Question] = {}
    left, right = dict.fromkeys(first), dict.fromkeys(second)
    for way in _WAYS:
        theirs = _by(way, right)
        for key, mine in _by(way, left).items():
            others = theirs.get(key, [])
            if len(mine) == 1 and len(others) == 1:
                found[mine[0]] = others[0]
                del left[mine[0]], right[others[0]]
    return found


def _by(way: _Way, questions: Iterable[Question]) -> dict[Hashable, list[Question]]:
    grouped: dict[Hashable, list[Question]] = {}
    for question in questions:
        grouped.setdefault(way(question), []).append(question)
    return grouped


def _id(name: str) -> str:
    return name.partition("@")[0]


def _ids(names: Iterable[str]) -> tuple[str, ...]:
    return tuple(map(_id, names))


_WAYS: tuple[_Way, ...] = (
    lambda q: q,
    lambda q: (q.book, q.id, q.changed_by),
    lambda q: (q.full_id, _ids(q.changed_by), frozenset(_ids(q.books))),
    lambda q: (q.full_id, _ids(q.changed_by)),
    lambda q: (q.full_id, frozenset(_ids(q.books))),
    lambda q: q.full_id,
)


def book_pairs(first: Audit, second: Audit) -> tuple[BookPair, ...]:
    """Return every rulebook behind either audit, bases too, in the order of the audits."""
    then, now = _books(first), _books(second)
    found: list[BookPair] = []
    for id_ in dict.fromkeys((*then, *now)):
        mine, theirs = then.get(id_, {}), now.get(id_, {})
        for old, new in _editions(mine, theirs):
            same_file = bool(old) and old == new and mine[old] == theirs[new]
            found.append(BookPair(id_, old, new, same_file))
    return tuple(found)


def _editions(then: Iterable[str], now: Iterable[str]) -> tuple[tuple[str, str], ...]:
    """Return the editions of one rulebook in pairs; the one in whose place another came, with it.

    Where several were there before or are now, which came for which is not guessed.
    """
    listed, others = tuple(then), tuple(now)
    if len(listed) == len(others) == 1:
        return ((listed[0], others[0]),)
    return tuple(
        (edition if edition in listed else "", edition if edition in others else "")
        for edition in dict.fromkeys((*listed, *others))
    )


def _books(audit: Audit) -> dict[str, dict[str, str]]:
    """Return the digest of each rulebook in use by its id and edition, those under it too."""
    found: dict[str, dict[str, str]] = {}
    for used in audit.books:
        for book in used.edition.adapted.documents():
            _add(found, book)
    return found


def _add(found: dict[str, dict[str, str]], book: Rulebook) -> None:
    found.setdefault(book.id, {})[book.edition] = book.document.digest


def says_the_same(then: Check | None, now: Check | None) -> bool:
    """Tell whether two rules ask the same of the same roofs, wherever they were written.

    Words that decide nothing (title, why, remedy, class) may differ.
    """
    if then is None or now is None:
        return then is now
    return _shape(_deciding(then)) == _shape(_deciding(now))


def _deciding(check: Check) -> tuple[object, ...]:
    return (
        check.of,
        check.at,
        check.host,
        check.when,
        check.limit,
        check.scope,
        check.evidence,
        check.stations,
    )


def _shape(node: object) -> object:
    """Return what a limit, a condition or a computed fact says, without where it was written."""
    match node:
        case Location():
            return None
        case tuple():
            return tuple(map(_shape, node))
        case FactRef(fact, over):
            how = fact.derivation
            computed = _shape(how.expression) if isinstance(how, Derivation) else None
            return fact.full_name, over, fact.dimension, computed
        case Struct():
            parts = (_shape(getattr(node, name)) for name in node.__struct_fields__)
            return type(node).__name__, *parts
        case _:
            return node

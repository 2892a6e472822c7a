"""Counts of many rulebooks in one number, so that an answer is added up in one step."""

from __future__ import annotations

from msgspec import Struct

_WIDTH = 24
"""Bits of one count: a record has far fewer places times rules."""
_MASK = (1 << _WIDTH) - 1


class Lanes(Struct, frozen=True):
    """Where each count stands: open answers, passes, not applicable; then these two by rulebook."""

    books: tuple[str, ...]

    @property
    def open(self) -> int:
        """One answer that is neither a pass nor not applicable."""
        return 1

    def passed(self, books: tuple[str, ...]) -> int:
        """Return one pass that counts in these rulebooks."""
        return self._one(0, books)

    def not_applicable(self, books: tuple[str, ...]) -> int:
        """Return one rule that does not apply, counted in these rulebooks."""
        return self._one(1, books)

    def _one(self, which: int, books: tuple[str, ...]) -> int:
        places = [1 + which, *(3 + 2 * self.books.index(book) + which for book in books)]
        return sum(1 << _WIDTH * place for place in places)

    def is_open(self, total: int) -> bool:
        """Tell whether any answer is open."""
        return bool(total & _MASK)

    def counts(self, total: int, book: int | None = None) -> tuple[int, int]:
        """Return the passes and what is not applicable, in all or in one of the rulebooks."""
        first = 1 if book is None else 3 + 2 * book
        return total >> _WIDTH * first & _MASK, total >> _WIDTH * (first + 1) & _MASK

"""A rulebook beside the others in sight: its file's name, its days in force, newer bases."""

from __future__ import annotations

import datetime as dt
from itertools import pairwise
from pathlib import PurePath
from typing import TYPE_CHECKING

from ridgerule.problems import InputRejected
from ridgerule.proof.lint_remarks import Remark, error, warning
from ridgerule.rulebook import InForce, age
from ridgerule.shelf import SUFFIXES

if TYPE_CHECKING:
    from collections.abc import Iterator

    from ridgerule.audit.plan import Edition
    from ridgerule.proof.lint_remarks import Sight
    from ridgerule.rulebook import Rulebook

_DAY = dt.timedelta(days=1)


def edition_remarks(edition: Edition, sight: Sight) -> Iterator[Remark]:
    """Yield what is wrong with a rulebook's file and days beside the other editions in sight."""
    book = edition.book
    yield from _file_name(book)
    yield from _older_bases(book, sight)
    try:
        editions = sight.shelf.editions(book.id, asked_at=book.document.location(("rulebook",)))
    except InputRejected as rejected:
        yield from map(Remark, rejected.problems)
        return
    yield from _expired(book, editions, sight)
    others = [other for other in editions if other.name != book.name]
    for other in others:
        if not _told_there(book, other, sight):
            yield from _unlike(book, other)
            yield from _overlapping(book, other)
    yield from _gaps(book, editions, sight)


def _file_name(book: Rulebook) -> Iterator[Remark]:
    name = PurePath(book.document.name)
    if "@" in name.stem and name.suffix in SUFFIXES:
        return  # the shelf has held it to what is in the file
    where = book.document.location(("rulebook",))
    suffix = name.suffix if name.suffix in SUFFIXES else SUFFIXES[0]
    told = f"a file named `{book.name.rpartition('/')[2]}{suffix}`"
    advice = "rename it: records and rulebooks find it by its name alone"
    yield warning(where, told, f"`{name.name}`", advice)


def _older_bases(book: Rulebook, sight: Sight) -> Iterator[Remark]:
    """Yield the bases of which a newer edition is in sight."""
    for reference, where in book.based_on:
        id_, _, edition = reference.partition("@")
        try:
            editions = sight.shelf.editions(id_, asked_at=where)
        except InputRejected as rejected:
            yield from map(Remark, rejected.problems)
            continue
        newest = max(editions, key=lambda each: age(each.edition))
        if age(newest.edition) > age(edition):
            told = f"the newest edition in sight, `{newest.name}`"
            advice = "stand on that, unless the older one is what holds here"
            yield warning(where, told, f"`{reference}`", advice)


def _told_there(book: Rulebook, other: Rulebook, sight: Sight) -> bool:
    """Tell whether what is wrong between two is said of the other: the newer, if both are asked."""
    return other.name in sight.checked and age(other.edition) > age(book.edition)


def _expired(book: Rulebook, editions: tuple[Rulebook, ...], sight: Sight) -> Iterator[Remark]:
    last = book.in_force.last
    if last is None or last >= sight.today:
        return
    if any(_ends(other.in_force)[1] >= sight.today for other in editions):
        return  # kept for older roofs, and another has taken over
    where = book.document.location(("in_force", "to"))
    told = f"an edition in force today, {sight.today}"
    advice = "add the next edition, or put the last day off"
    yield warning(where, told, f"one that expired on {last}", advice)


def _unlike(book: Rulebook, other: Rulebook) -> Iterator[Remark]:
    """Yield that no one date tells two editions apart."""
    ours, theirs = book.in_force_by, other.in_force_by
    if ours is theirs:
        return
    key = "in_force_by" if ours is not None else "rulebook"
    told = f"one date that tells the editions of `{book.id}` apart"
    found = (
        f"{f'`in_force_by: {ours}`' if ours else 'no `in_force_by`'} here and "
        f"{f'`in_force_by: {theirs}`' if theirs else 'none'} in {_named(other)}"
    )
    advice = "give both the same `in_force_by`: without it no roof can be verified"
    yield error(book.document.location((key,)), told, found, advice)


def _overlapping(book: Rulebook, other: Rulebook) -> Iterator[Remark]:
    if book.in_force_by is None or book.in_force_by is not other.in_force_by:
        return
    older, newer = sorted((book, other), key=lambda each: _ends(each.in_force))
    first, last = _ends(newer.in_force)[0], min(_ends(b.in_force)[1] for b in (book, other))
    if first > last:
        return
    told = f"days on which no other edition of `{book.id}` is in force"
    both = _words(first, last)
    found = f"`{book.name}` {book.in_force} and {_named(other)} {other.in_force}, both {both}"
    advice = "give each edition days of its own"
    if first > _ends(older.in_force)[0]:
        advice = f"end `{older.name}` with `in_force: {{to: {first - _DAY}}}`"
    where = book.document.location(("in_force_by",))
    if book.in_force != InForce():
        where = book.document.location(("in_force",))
    yield error(where, told, found, advice)


def _gaps(book: Rulebook, editions: tuple[Rulebook, ...], sight: Sight) -> Iterator[Remark]:
    """Yield the days between two editions, one of them this, on which none is in force."""
    dated = [each for each in editions if each.in_force_by is book.in_force_by]
    if book.in_force_by is None or len(dated) != len(editions):
        return
    ordered = sorted(dated, key=lambda each: _ends(each.in_force))
    for before, after in pairwise(ordered):
        if book.name not in (before.name, after.name):
            continue
        last = max(_ends(each.in_force)[1] for each in ordered[: ordered.index(after)])
        first = _ends(after.in_force)[0]
        other = after if book.name == before.name else before
        if last == dt.date.max or last + _DAY >= first or _told_there(book, other, sight):
            continue
        told = f"an edition of `{book.id}` in force on every day between two"
        found = f"none {_words(last + _DAY, first - _DAY)}, after {_named(before)}"
        if other is after:
            found = f"none {_words(last + _DAY, first - _DAY)}, before {_named(after)}"
        advice = f"end the one on the day before the other begins: a {book.in_force_by} date in "
        advice += "between leaves a roof not verified"
        yield warning(book.document.location(("in_force",)), told, found, advice)


def _ends(period: InForce) -> tuple[dt.date, dt.date]:
    return period.first or dt.date.min, period.last or dt.date.max


def _words(first: dt.date, last: dt.date) -> str:
    if first == dt.date.min and last == dt.date.max:
        return "always"
    start = "" if first == dt.date.min else f"from {first}"
    end = "" if last == dt.date.max else f"to {last}"
    return " ".join(filter(None, (start, end)))


def _named(book: Rulebook) -> str:
    return f"`{book.name}` ({book.document.name})"

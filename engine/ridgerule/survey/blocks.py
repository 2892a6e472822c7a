"""A file of records in blocks of lines: surveyed one after the other, or in several processes.

A process is given the place of a block in the file and hands back bytes; so memory does not grow
with the number of records, and the results stand in the order of the lines.
"""

from __future__ import annotations

import gc
from collections import Counter, deque
from concurrent.futures import ProcessPoolExecutor
from contextlib import contextmanager
from typing import TYPE_CHECKING, Any, TypeVar

from msgspec import Struct

from ridgerule.plain_data import MOST_BYTES
from ridgerule.problems import Location, Problem
from ridgerule.survey.results import of_problems

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator
    from pathlib import Path
    from typing import BinaryIO

    from ridgerule.survey.surveying import Surveyor

BLOCK = 2 * 1024 * 1024
"""Bytes of a block, up to the end of the line that they end in."""
_ROOM = 5_000
_T = TypeVar("_T")


class Block(Struct, frozen=True):
    """Some lines of a file."""

    path: Path
    name: str
    """The file as it is shown to the user."""
    start: int
    end: int
    first: int
    """The number of its first line."""


class Surveyed(Struct, frozen=True):
    """The results of a block, a line each, and how many records came to what."""

    lines: bytes
    outcomes: dict[str, int]
    """By outcome; `unusable` for records that can't be used."""


UNUSABLE = "unusable"


def blocks_of(path: Path, name: str) -> Iterator[Block]:
    """Yield the blocks of a file; raises OSError where it can't be read."""
    start, first = 0, 1
    with path.open("rb") as file:
        while data := file.read(BLOCK):
            end, lines = start + len(data), data.count(b"\n")
            if not data.endswith(b"\n"):
                more = _to_line_end(file)
                end, lines = end + more, lines + 1
            yield Block(path, name, start, end, first)
            start, first = end, first + lines


def _to_line_end(file: BinaryIO) -> int:
    """Read on to the end of a line, however long; return how many bytes that were."""
    count = 0
    while piece := file.readline(BLOCK):
        count += len(piece)
        if piece.endswith(b"\n"):
            break
    return count


def survey_block(surveyor: Surveyor, block: Block) -> Surveyed:
    """Return the results of a block's lines."""
    return _with_room(_surveyed, surveyor, block)


def _surveyed(surveyor: Surveyor, block: Block) -> Surveyed:
    found: list[bytes] = []
    outcomes: Counter[str] = Counter()
    with block.path.open("rb") as file:
        file.seek(block.start)
        number, place = block.first, block.start
        while place < block.end:
            line = file.readline(MOST_BYTES + 2)
            place += len(line)
            if not line:
                break  # the file has become shorter meanwhile
            if len(line) > MOST_BYTES + 1 and not line.endswith(b"\n"):
                place += _to_line_end(file)
                result = of_problems([_too_long(block, number)], f"{block.name}:{number}")
            elif stripped := line.strip():
                result = surveyor.result(stripped, block.name, number)
            else:
                number += 1
                continue
            number += 1
            found.append(result.line)
            outcomes[result.outcome.value if result.outcome else UNUSABLE] += 1
    return Surveyed(b"".join(found), dict(outcomes))


def _too_long(block: Block, number: int) -> Problem:
    return Problem(
        Location(block.name, number, 1),
        f"a record of at most {MOST_BYTES // 2**20} MiB",
        "a longer line",
        "write one record a line",
    )


def _with_room(function: Callable[..., _T], *args: Any) -> _T:  # noqa: ANN401
    """Call a function with room on Python's stack for all that it calls.

    The stack grows by 16 KiB at a time and gives each piece back at once; where a piece ends
    inside the innermost loop, that costs more than the loop's own work (measured: twice the time).
    This frame is larger than a piece, so that the next one begins here and stays.
    """
    return function(*args)


_with_room.__code__ = _with_room.__code__.replace(co_stacksize=_ROOM)


def survey(
    made: Callable[[], Surveyor], blocks: Iterator[Block], *, jobs: int
) -> Iterator[Surveyed]:
    """Yield the results of blocks in their order, surveyed by as many processes as `jobs` says."""
    if jobs == 1:
        with _seldom_collected():
            surveyor = made()
            for block in blocks:
                yield survey_block(surveyor, block)
        return
    with ProcessPoolExecutor(jobs, initializer=_begin, initargs=(made,)) as pool:
        waiting: deque[Any] = deque()
        for block in blocks:
            waiting.append(pool.submit(_work, block))
            if len(waiting) > 2 * jobs:
                yield waiting.popleft().result()
        while waiting:
            yield waiting.popleft().result()


_own: list[Surveyor] = []
"""The surveyor of a process that was started to survey."""


def _begin(made: Callable[[], Surveyor]) -> None:
    _own[:] = [made()]
    gc.freeze()
    gc.set_threshold(*_SELDOM)


def _work(block: Block) -> Surveyed:
    return survey_block(_own[0], block)


_SELDOM = (200_000, 50, 100)


@contextmanager
def _seldom_collected() -> Iterator[None]:
    """Look for circles of objects seldom: a record makes none, and looking takes time."""
    before = gc.get_threshold()
    gc.set_threshold(*_SELDOM)
    try:
        yield
    finally:
        gc.set_threshold(*before)

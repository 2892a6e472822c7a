"""What a check of a rulebook has to say: a problem each, told as an error or as a warning."""

from __future__ import annotations

from enum import StrEnum
from typing import TYPE_CHECKING

from msgspec import Struct

from ridgerule.problems import Location, Problem

if TYPE_CHECKING:
    import datetime as dt

    from ridgerule.shelf import Shelf


class Level(StrEnum):
    """How grave a remark is: an error has to be mended, a warning looked at."""

    ERROR = "error"
    WARNING = "warning"


class Remark(Struct, frozen=True, order=True):
    """One thing to mend or to look at in a rulebook's file."""

    problem: Problem
    level: Level = Level.ERROR

    def __str__(self) -> str:
        location, told = self.problem.location, self.told
        return f"{location}: {self.level}: {told}"

    @property
    def told(self) -> str:
        """What was expected, what was found and what to do."""
        problem = self.problem
        told = f"expected {problem.expected}; found {problem.found}"
        return f"{told}; {problem.advice}" if problem.advice else told


class Sight(Struct, frozen=True):
    """What a check sees besides the rulebook itself."""

    shelf: Shelf
    today: dt.date
    checked: frozenset[str] = frozenset()
    """The rulebooks checked in one go, as `id@edition`: what is wrong between two is said once."""


def error(where: Location, expected: str, found: str, advice: str) -> Remark:
    """Return something that has to be mended."""
    return Remark(Problem(where, expected, found, advice), Level.ERROR)


def warning(where: Location, expected: str, found: str, advice: str) -> Remark:
    """Return something to look at, which may be meant as it is."""
    return Remark(Problem(where, expected, found, advice), Level.WARNING)

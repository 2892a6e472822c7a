"""What was typed after `ridgerule reckon`: flags of several values, and every mistake at once."""

from __future__ import annotations

import re
from fractions import Fraction
from typing import TYPE_CHECKING

from typer.core import TyperCommand, TyperOption

from ridgerule.enclosures import Amount, Span, exact
from ridgerule.misreadings import Mistake
from ridgerule.problems import InputRejected, Location, Problem, shown
from ridgerule.quantities import Dimension, Quantity, Units, read, units_of

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence
    from typing import Any

_BARE = re.compile(r"[0-9]+(\.[0-9]+)?", re.ASCII)
_BELOW_ZERO = re.compile(r"-[0-9.]", re.ASCII)


class ManyAfterOne(TyperCommand):
    """A command whose lists can be given after one flag: `--slopes 8:12 10:12`.

    The flag may be repeated as well.
    """

    def parse_args(self, ctx: Any, args: list[str]) -> list[str]:  # noqa: ANN401 - typer's context
        """Return what is left after the options; each value of a list gets its flag."""
        lists = {
            name
            for option in self.params
            if isinstance(option, TyperOption) and option.multiple
            for name in option.opts
        }
        return super().parse_args(ctx, spread(args, lists))


def spread(arguments: Sequence[str], lists: Iterable[str]) -> list[str]:
    """Return the arguments with the flag of a list before each of its values.

    What starts with a minus and a digit is a value: it may be cold. After `--` nothing is one.
    """
    flags, told = frozenset(lists), list[str]()
    flag, is_first = "", False
    for i, argument in enumerate(arguments):
        if argument == "--":
            return [*told, *arguments[i:]]
        if argument.startswith("-") and not _BELOW_ZERO.match(argument):
            name, has_value, _ = argument.partition("=")
            flag, is_first = (name if name in flags else ""), not has_value
            told.append(argument)
            continue
        if flag and not is_first:
            told.append(flag)
        is_first = False
        told.append(argument)
    return told


def with_degrees(text: str) -> str:
    """Return an angle as it is read: a bare number is one of degrees."""
    return f"{text} deg" if _BARE.fullmatch(text) else text


class Typed:
    """Reads values flag by flag; keeps what can't be read until `refuse` tells it all."""

    def __init__(self, units: Units | None) -> None:
        self._units = units
        self._problems: list[Problem] = []
        self.given: list[tuple[str, str]] = []
        """Flags and their values as they were typed, in the order they were read."""

    @property
    def units(self) -> Units:
        """The units asked for, or those of the first value that has any; else inches."""
        if self._units is not None:
            return self._units
        found = (units_of(text) for _, text in self.given)
        return next((units for units in found if units is not None), Units.INCH)

    def one(self, flag: str, text: str | None, dimension: Dimension) -> Amount:
        """Return the amount of a flag that has to be given."""
        amount = self.maybe(flag, text, dimension)
        if text is None:
            self.wrong(flag, _expected(dimension), "nothing", f"give `{flag}`")
        return 0 if amount is None else amount

    def maybe(self, flag: str, text: str | None, dimension: Dimension) -> Amount | None:
        """Return the amount of a flag, None where it was not given."""
        if text is None:
            return None
        self.given.append((flag, text))
        found = read(with_degrees(text) if dimension is Dimension.ANGLE else text, dimension)
        if isinstance(found, Quantity):
            return found.amount
        self.wrong(flag, found.expected, found.found, found.advice)
        return None

    def many(
        self,
        flag: str,
        texts: Sequence[str] | None,
        dimension: Dimension,
        *,
        counts: tuple[int, ...] = (),
    ) -> tuple[Amount, ...]:
        """Return the amounts of a flag of several values; `counts` says how many it takes."""
        found = tuple(self.one(flag, text, dimension) for text in texts or ())
        if counts and len(found) not in counts:
            wanted = " or ".join(map(str, counts))
            self.wrong(flag, f"{wanted} of them", str(len(found)), f"give `{flag}` {wanted} values")
        return found

    def pair(self, flag: str, texts: Sequence[str] | None, dimension: Dimension) -> list[Amount]:
        """Return two amounts, one given standing for both."""
        found = self.many(flag, texts, dimension, counts=(1, 2))
        return [*found, *found][:2] if found else [0, 0]

    def interval(
        self, flags: tuple[str, str], ends: tuple[str | None, str | None], dimension: Dimension
    ) -> Amount | None:
        """Return the interval between what two flags give; None unless both can be read."""
        least, most = (
            self.maybe(flag, text, dimension) for flag, text in zip(flags, ends, strict=True)
        )
        if least is None or most is None or isinstance(least, Span) or isinstance(most, Span):
            return None
        if least > most:
            told = f"`{shown(ends[0])}` and `{shown(ends[1])}`"
            self.wrong(flags[0], "the least before the greatest", told, "swap them")
            return None
        return least if least == most else Span(least, most)

    def divisor(self, flag: str, text: str | None) -> Amount:
        """Return what an area is divided by, written `150` or `1/150`."""
        if text is not None and not isinstance(read(text, Dimension.COUNT), Mistake):
            return self.one(flag, text, Dimension.COUNT)
        share = self.one(flag, text, Dimension.SHARE)
        return exact(1 / Fraction(share)) if not isinstance(share, Span) and share else 0

    def wrong(self, flag: str, expected: str, found: str, advice: str = "") -> None:
        """Keep a mistake of one flag."""
        self._problems.append(Problem(Location(flag), expected, found, advice))

    def refuse(self) -> None:
        """Raise `InputRejected` with every mistake kept, if there is one."""
        if self._problems:
            raise InputRejected(self._problems)

    def as_typed(self) -> str:
        """Return the flags and their values in one line."""
        told = dict[str, list[str]]()
        for flag, text in self.given:
            told.setdefault(flag, []).append(shown(text))
        return " ".join(f"{flag} {', '.join(texts)}" for flag, texts in told.items())


def _expected(dimension: Dimension) -> str:
    found = read("", dimension)
    return found.expected if isinstance(found, Mistake) else str(dimension)

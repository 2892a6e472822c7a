"""What a reckoning is: a computation of the trade under a name, with inputs told in words.

The reckonings themselves are in the modules named `reckoned_*`, and `reckonings` lists them all.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from functools import lru_cache
from typing import TypeAlias

from msgspec import Struct

from ridgerule.enclosures import Amount, Exact, Span
from ridgerule.facts import Plain, Value
from ridgerule.problems import with_article
from ridgerule.quantities import Dimension, Quantity
from ridgerule.trade.working import Step

_MEMORY = 1 << 12


class Input(Struct, frozen=True):
    """One thing a reckoning is computed from."""

    name: str
    dimension: Dimension | Plain
    words: str
    """What to give, plainly."""
    many: bool = False
    """Whether it takes several values, in order."""
    optional: bool = False
    counts: tuple[int, ...] = ()
    """How many values it takes where it takes several; empty for any number from one up."""
    choices: tuple[str, ...] = ()


class Reckoned(Struct, frozen=True):
    """What came out, and the working; a quantity has no text of its own."""

    value: Quantity | bool
    steps: tuple[Step, ...]


Inputs: TypeAlias = Mapping[str, tuple[Value, ...]]


class Reckoning(Struct, frozen=True):
    """One computation of the trade.

    `compute` returns None where it cannot be told, and raises ValueError with everything that is
    wrong with its inputs: missing, too many, of another dimension, or impossible.
    """

    name: str
    inputs: tuple[Input, ...]
    dimension: Dimension | Plain
    formula: str
    """In words."""
    source: str
    compute: Callable[[Inputs], Reckoned | None]


class Given(Struct, frozen=True):
    """The inputs of one reckoning, checked against what it takes."""

    values: Inputs

    def __contains__(self, name: str) -> bool:
        return bool(self.values.get(name))

    def amounts(self, name: str) -> tuple[Amount, ...]:
        """Return the amounts of an input, none where it was not given."""
        values = self.values.get(name, ())
        return tuple(value.amount for value in values if isinstance(value, Quantity))

    def amount(self, name: str) -> Amount:
        """Return the amount of an input that has one."""
        return self.amounts(name)[0]

    def exact(self, name: str) -> Exact:
        """Return an amount that is one number; ValueError for an interval."""
        amount = self.amount(name)
        if isinstance(amount, Span):
            raise ValueError(f"{name} is one number, not an interval")  # noqa: TRY004 - an input
        return amount

    def whole(self, name: str, *, default: int = 0) -> int:
        """Return a count, `default` where it was not given; ValueError unless it is whole."""
        if name not in self:
            return default
        amount = self.exact(name)
        if amount.denominator != 1:
            raise ValueError(f"{name} is a whole number")
        return int(amount)

    def words(self, name: str) -> tuple[str, ...]:
        """Return the words given for an input, none where it was not given."""
        return tuple(value for value in self.values.get(name, ()) if isinstance(value, str))

    def answers(self, name: str) -> tuple[bool, ...]:
        """Return the yes and no given for an input."""
        return tuple(value for value in self.values.get(name, ()) if isinstance(value, bool))


Answer: TypeAlias = Amount | bool | None
"""An amount in the reckoning's dimension, or yes or no; None where it can't be told."""
Found: TypeAlias = tuple[Answer, tuple[Step, ...]]
"""An answer and its working."""


def reckoning(  # noqa: PLR0913 - one argument a field
    name: str,
    *,
    inputs: tuple[Input, ...],
    dimension: Dimension | Plain,
    formula: str,
    source: str,
    work: Callable[[Given], Found],
) -> Reckoning:
    """Return a reckoning that does `work` once for the same exact inputs."""

    @lru_cache(_MEMORY)
    def remembered(given: tuple[tuple[str, tuple[Value, ...]], ...]) -> Reckoned | None:
        amount, steps = work(Given(dict(given)))
        return _reckoned(amount, steps, dimension)

    def compute(values: Inputs) -> Reckoned | None:
        if wrong := tuple(_wrong(inputs, values)):
            raise ValueError("; ".join(wrong))
        return remembered(tuple(sorted((name, tuple(own)) for name, own in values.items())))

    return Reckoning(name, inputs, dimension, formula, source, compute)


def _reckoned(
    amount: Answer, steps: tuple[Step, ...], dimension: Dimension | Plain
) -> Reckoned | None:
    if amount is None or (isinstance(amount, Span) and amount.low is None and amount.high is None):
        return None
    if isinstance(dimension, Dimension):
        return Reckoned(Quantity(dimension, amount, ""), steps)
    return Reckoned(bool(amount), steps)


def _wrong(inputs: tuple[Input, ...], values: Inputs) -> list[str]:
    """Return what is wrong with the values by themselves, input by input."""
    known = {own.name for own in inputs}
    told = [f"no input is called {name}" for name in values if name not in known]
    for own in inputs:
        given = values.get(own.name, ())
        if not given:
            if not own.optional:
                told.append(f"{own.name} is missing: {own.words}")
            continue
        counts = own.counts if own.many else (1,)
        if counts and len(given) not in counts:
            wanted = " or ".join(map(str, counts))
            told.append(f"{own.name} takes {wanted} of them, not {len(given)}: {own.words}")
        if not all(_fits(value, own) for value in given):
            told.append(f"{own.name} is {_wanted(own)}")
    return told


def _fits(value: Value, own: Input) -> bool:
    match own.dimension:
        case Dimension() as dimension:
            return isinstance(value, Quantity) and value.dimension is dimension
        case Plain.YES_NO:
            return isinstance(value, bool)
        case _:
            return isinstance(value, str) and (not own.choices or value in own.choices)


def _wanted(own: Input) -> str:
    if own.choices:
        return f"one of {', '.join(own.choices)}"
    return with_article(own.dimension) if isinstance(own.dimension, Dimension) else own.dimension

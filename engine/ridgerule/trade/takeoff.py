"""Take-off of caps: how many each line needs, held against what a delivery lists.

The formulas are common practice, no source. Exposures and waste shares come from a rulebook or
the record. Lengths are in nm; caps are whole, and a span of counts where a length is a span.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from msgspec import Struct

from ridgerule.enclosures import Amount, add, compare, divide, high, multiply
from ridgerule.trade.arithmetic import excess, total, whole_up
from ridgerule.trade.certainty import not_negative, positive
from ridgerule.trade.working import Step, given
from ridgerule.units import Dimension

if TYPE_CHECKING:
    from collections.abc import Hashable, Sequence

_COUNT, _LENGTH = Dimension.COUNT, Dimension.LENGTH


class CapLine(Struct, frozen=True, kw_only=True):
    """A hip or ridge to be capped.

    `profile` is the caller's own label for the cap it takes. `starts` and `mitres` are caps
    needed besides the courses; `waste` is a share of all of them. ValueError for a length or an
    extra below 0, an exposure not above 0, or a length that could be endless.
    """

    name: str
    profile: Hashable
    length: Amount
    exposure: Amount
    starts: int = 0
    mitres: int = 0
    waste: Amount = 0

    def __post_init__(self) -> None:
        not_negative(self.length, name="a line's length")
        not_negative(self.starts, name="a count of starts")
        not_negative(self.mitres, name="a count of mitres")
        not_negative(self.waste, name="a waste share")
        if compare(self.exposure, 0) != 1:
            raise ValueError("a cap exposure is more than 0")
        if high(self.length) is None or high(self.waste) is None:
            raise ValueError("a line's length and its waste share need a greatest value")


class LineCaps(Struct, frozen=True):
    """The caps one line needs."""

    line: CapLine
    caps: Amount
    steps: tuple[Step, ...]


class ProfileCaps(Struct, frozen=True):
    """The caps of one profile, and the lines they are for."""

    profile: Hashable
    caps: Amount
    lines: tuple[LineCaps, ...]


class TakeOff(Struct, frozen=True):
    """What a roof needs, line by line and by profile, each in the order first met."""

    lines: tuple[LineCaps, ...]
    profiles: tuple[ProfileCaps, ...]
    steps: tuple[Step, ...]


def caps_of(line: CapLine) -> LineCaps:
    """Return the caps a line needs: whole courses, starts and mitres, then waste, whole again."""
    length = not_negative(line.length, name="a line's length")
    waste = not_negative(line.waste, name="a waste share")
    courses = whole_up(divide(length, line.exposure))
    pieces = add(courses, line.starts + line.mitres)
    caps = whole_up(multiply(pieces, add(1, waste)))
    name = line.name
    steps = (
        given(f"{name}, length", length, _LENGTH),
        given(f"{name}, exposure", line.exposure, _LENGTH),
        Step(f"{name}, courses", "length / exposure, up to a whole cap", courses, _COUNT),
        Step(
            f"{name}, pieces",
            f"courses + {line.starts} for starts + {line.mitres} for mitres",
            pieces,
            _COUNT,
        ),
        given(f"{name}, waste, a share of the pieces", waste, Dimension.SHARE),
        Step(f"{name}, caps", "pieces x (1 + waste), up to a whole cap", caps, _COUNT),
    )
    return LineCaps(line, caps, steps)


def takeoff(lines: Sequence[CapLine]) -> TakeOff:
    """Return the caps `lines` need. ValueError where two lines share a name."""
    names = [line.name for line in lines]
    if twice := sorted({name for name in names if names.count(name) > 1}):
        raise ValueError(f"two lines are named {', '.join(twice)}; bundles go to lines by name")
    counted = tuple(caps_of(line) for line in lines)
    profiles = []
    for profile in dict.fromkeys(line.profile for line in lines):
        own = tuple(item for item in counted if item.line.profile == profile)
        profiles.append(ProfileCaps(profile, total(item.caps for item in own), own))
    steps = [step for item in counted for step in item.steps]
    for found in profiles:
        formula = " + ".join(item.line.name for item in found.lines)
        steps.append(Step(f"caps of profile {found.profile}", formula, found.caps, _COUNT))
    return TakeOff(counted, tuple(profiles), tuple(steps))


def bundles_needed(caps: Amount, *, per_bundle: int) -> Amount:
    """Return the whole bundles that hold `caps`. ValueError below 0, or for an empty bundle."""
    positive(per_bundle, name="the count of caps in a bundle")
    return whole_up(divide(not_negative(caps, name="a count of caps"), per_bundle))


# a delivery


class Bundle(Struct, frozen=True):
    """An entry of a delivery note. ValueError for a count below 0."""

    name: str
    profile: Hashable
    caps: int

    def __post_init__(self) -> None:
        not_negative(self.caps, name="a count of caps")


class Supply(Struct, frozen=True):
    """One profile, needed against delivered; one that no line takes `is_wanted` by none."""

    profile: Hashable
    is_wanted: bool
    needed: Amount
    delivered: int
    short: Amount
    surplus: Amount

    @property
    def is_enough(self) -> bool | None:
        """Whether no cap is lacking; None where the need is not known that closely."""
        order = compare(self.short, 0)
        return order == 0 if order is not None else None


class Allotment(Struct, frozen=True):
    """Caps of one bundle and the line they belong on; None for caps no line needs."""

    bundle: str
    line: str | None
    caps: int


class Delivery(Struct, frozen=True):
    """A delivery held against a take-off: profiles needed first, then those no line takes."""

    supplies: tuple[Supply, ...]
    allotments: tuple[Allotment, ...]
    steps: tuple[Step, ...]

    @property
    def short(self) -> tuple[Supply, ...]:
        """The profiles too few came of."""
        return tuple(s for s in self.supplies if s.is_enough is False)

    @property
    def unsure(self) -> tuple[Supply, ...]:
        """The profiles of which it can't be told whether enough came."""
        return tuple(s for s in self.supplies if s.is_enough is None)

    @property
    def surplus(self) -> tuple[Supply, ...]:
        """The wanted profiles more came of than is needed."""
        return tuple(s for s in self.supplies if s.is_wanted and compare(s.surplus, 0) == 1)

    @property
    def wrong(self) -> tuple[Supply, ...]:
        """The profiles that came and no line takes."""
        return tuple(s for s in self.supplies if not s.is_wanted)


def held_against(take_off: TakeOff, delivered: Sequence[Bundle]) -> Delivery:
    """Return what is short, over or of a wrong profile, and the line each bundle belongs on.

    Bundles are laid out in their order on lines in theirs. Where a line's need is a span, its
    greatest count is laid out.
    """
    needed = {found.profile: found.caps for found in take_off.profiles}
    came: dict[Hashable, int] = dict.fromkeys(needed, 0)
    for bundle in delivered:
        came[bundle.profile] = came.get(bundle.profile, 0) + bundle.caps
    supplies = tuple(
        _supply(profile, needed.get(profile), count) for profile, count in came.items()
    )
    steps = []
    for item in supplies:
        of = f"profile {item.profile}"
        steps += [
            Step(f"{of}, needed", "from the take-off", item.needed, _COUNT),
            Step(f"{of}, delivered", "sum of its bundles", item.delivered, _COUNT),
            Step(f"{of}, short", "needed less delivered, at least 0", item.short, _COUNT),
            Step(f"{of}, surplus", "delivered less needed, at least 0", item.surplus, _COUNT),
        ]
    return Delivery(supplies, _allotted(take_off, delivered), tuple(steps))


def _supply(profile: Hashable, needed: Amount | None, delivered: int) -> Supply:
    need: Amount = 0 if needed is None else needed
    short, surplus = excess(need, over=delivered), excess(delivered, over=need)
    return Supply(profile, needed is not None, need, delivered, short, surplus)


def _allotted(take_off: TakeOff, delivered: Sequence[Bundle]) -> tuple[Allotment, ...]:
    open_need = {item.line.name: int(high(item.caps) or 0) for item in take_off.lines}
    allotments = []
    for bundle in delivered:
        left = bundle.caps
        for item in take_off.lines:
            name = item.line.name
            laid = min(left, open_need[name]) if item.line.profile == bundle.profile else 0
            if laid:
                allotments.append(Allotment(bundle.name, name, laid))
                open_need[name] -= laid
                left -= laid
        if left:
            allotments.append(Allotment(bundle.name, None, left))
    return tuple(allotments)

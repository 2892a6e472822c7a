"""Sheets of movement, caps, tapes and samples."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from ridgerule.cli.reckon_sheet import Answer, Sheet, sheet
from ridgerule.enclosures import Span, compare
from ridgerule.problems import shown
from ridgerule.quantities import Quantity, write
from ridgerule.trade import measurement, takeoff
from ridgerule.trade import movement as moving
from ridgerule.trade.certainty import is_at_most
from ridgerule.trade.reckonings import RECKONINGS
from ridgerule.trade.working import Step
from ridgerule.units import Dimension

if TYPE_CHECKING:
    from collections.abc import Sequence

    from ridgerule.cli.reckon_input import Typed
    from ridgerule.enclosures import Amount

_LENGTH, _COUNT, _SHARE = Dimension.LENGTH, Dimension.COUNT, Dimension.SHARE
_TEMPERATURE = Dimension.TEMPERATURE


# movement


@dataclass(frozen=True, slots=True)
class MovementAsked:
    """A gap and its surroundings as they were typed."""

    gap: str | None
    edges: Sequence[str] | None
    expansion: Sequence[str] | None
    read_at: str | None
    to: Sequence[str] | None


def movement(typed: Typed, asked: MovementAsked) -> Sheet:
    """Return what is left of a gap at each temperature. InputRejected, or ValueError."""
    gap = typed.one("--gap", asked.gap, _LENGTH)
    edges = typed.many("--edges", asked.edges, _LENGTH, counts=(1, 2))
    expansion = _expansion(typed, asked.expansion)
    start = typed.one("--read-at", asked.read_at, _TEMPERATURE)
    ends = typed.many("--to", asked.to, _TEMPERATURE)
    if not ends:
        typed.wrong("--to", "a surface temperature asked for", "nothing", "give `--to`")
    typed.refuse()
    found = [
        moving.gap_at(
            gap,
            edge_distances=edges,
            expansion=expansion,
            surface_temperature=start,
            target_temperature=end,
        )
        for end in ends
    ]
    rows = [("surface", "gap left", "growth of the slates")]
    results: list[Step | Answer] = []
    for end, moved in zip(ends, found, strict=True):
        at = write(end, _TEMPERATURE, units=typed.units)
        results.append(Step(f"gap left at {at}", "", moved.gap, _LENGTH))
        left, grown = (write(a, _LENGTH, units=typed.units) for a in (moved.gap, moved.growth))
        rows.append((at, left, grown))
    is_open = [is_at_most(0, moved.gap) for moved in found]
    results.append(
        Answer(
            "open at each of them", False if False in is_open else None if None in is_open else True
        )
    )
    return sheet(
        typed,
        name="movement",
        title="A gap as the slates move",
        results=results,
        steps=[step for moved in found for step in moved.steps],
        reckonings=("gap left at a temperature",),
        table=rows,
        notes=("Each slate moves from its own nearest fastener; a roof's run plays no part.",),
    )


def _expansion(typed: Typed, texts: Sequence[str] | None) -> Amount:
    found = typed.many("--expansion", texts, Dimension.EXPANSION, counts=(1, 2))
    if len(found) != 2:
        return found[0] if found else 0
    least, most = found
    if compare(least, most) == 1:
        told = " and ".join(f"`{shown(text)}`" for text in texts or ())
        typed.wrong("--expansion", "the least before the greatest", told, "swap them")
    if isinstance(least, Span) or isinstance(most, Span) or least >= most:
        return least
    return Span(least, most)


# caps


@dataclass(frozen=True, slots=True)
class CapsAsked:
    """Lines of one profile, and what came for them, as they were typed."""

    lengths: Sequence[str] | None
    exposure: str | None
    starts: str | None
    mitres: str | None
    waste: str | None
    bundle: str | None
    delivered: str | None


def caps(typed: Typed, asked: CapsAsked) -> Sheet:
    """Return the caps that lines of one profile need. InputRejected, or ValueError."""
    each = _whole(typed, "--bundle", asked.bundle)
    delivered = _whole(typed, "--delivered", asked.delivered)
    taken = takeoff.takeoff(_lines(typed, asked))
    needed, steps = taken.profiles[0].caps, list(taken.steps)
    results: list[Step | Answer] = [Step("caps needed", "", needed, _COUNT)]
    if asked.bundle is not None:
        bundles = takeoff.bundles_needed(needed, per_bundle=each)
        results.append(Step("bundles needed", "", bundles, _COUNT))
        steps.append(Step("bundles", f"caps / {each} in a bundle, whole", bundles, _COUNT))
    if asked.delivered is not None:
        came = takeoff.Bundle("delivery", _PROFILE, delivered)
        held = takeoff.held_against(taken, [came])
        supply = held.supplies[0]
        results += [
            Answer("enough came", supply.is_enough),
            Step("short", "", supply.short, _COUNT),
            Step("over", "", supply.surplus, _COUNT),
        ]
        steps += held.steps[1:]
    rows: list[tuple[str, ...]] = [("line", "length", "caps")]
    for item in taken.lines:
        length = write(item.line.length, _LENGTH, units=typed.units)
        rows.append((item.line.name, length, write(item.caps, _COUNT, units=typed.units)))
    return sheet(
        typed,
        name="caps",
        title="Caps of one profile",
        results=results,
        steps=steps,
        reckonings=("caps needed on a line",),
        table=rows,
    )


_PROFILE = "typed"


def _lines(typed: Typed, asked: CapsAsked) -> list[takeoff.CapLine]:
    """Return the lines to be capped; raises `InputRejected` with every mistake typed."""
    lengths = typed.many("--lengths", asked.lengths, _LENGTH)
    if not lengths:
        typed.wrong("--lengths", "the length of each line", "nothing", "give `--lengths`")
    exposure = typed.one("--exposure", asked.exposure, _LENGTH)
    starts = _whole(typed, "--starts", asked.starts)
    mitres = _whole(typed, "--mitres", asked.mitres)
    waste = typed.maybe("--waste", asked.waste, _SHARE) or 0
    typed.refuse()
    return [
        takeoff.CapLine(
            name=f"line {n}",
            profile=_PROFILE,
            length=length,
            exposure=exposure,
            starts=starts,
            mitres=mitres,
            waste=waste,
        )
        for n, length in enumerate(lengths, 1)
    ]


def _whole(typed: Typed, flag: str, text: str | None) -> int:
    amount = typed.maybe(flag, text, _COUNT)
    return amount if isinstance(amount, int) else 0


# tapes and samples


def tape(typed: Typed, length: str | None, name: str, *, graduation: str | None) -> Sheet:
    """Return the uncertainty of a reading by tape. InputRejected, or ValueError."""
    measured = typed.one("--length", length, _LENGTH)
    marks = typed.maybe("--graduation", graduation, _LENGTH)
    typed.refuse()
    chosen = measurement.TAPE_CLASSES[name]
    parts = [measurement.of_tape(measured, tape=chosen)]
    if marks is not None:
        parts.append(measurement.of_graduation(marks))
    whole = measurement.expanded(measurement.combined(parts) if len(parts) > 1 else parts[0])
    greatest = next(step for step in whole.steps if step.label.startswith("greatest error"))
    return sheet(
        typed,
        name="tape",
        title=f"A length by a tape of class {name}",
        results=(
            Step("expanded uncertainty (k = 2)", "", whole.amount, _LENGTH),
            Step("greatest error allowed to it", "", greatest.amount, _LENGTH),
        ),
        steps=whole.steps,
        reckonings=("uncertainty of a tape", "combined uncertainty"),
        notes=("Class I and III are recalled: confirm them.",) if chosen.is_recalled else (),
    )


def sample(
    typed: Typed, *, confidence: str | None, reliability: str | None, lot: str | None
) -> Sheet:
    """Return how many pieces to look at. InputRejected, or ValueError."""
    sure = typed.one("--confidence", confidence, _SHARE)
    good = typed.one("--reliability", reliability, _SHARE)
    pieces = typed.maybe("--lot", lot, _COUNT)
    typed.refuse()
    inputs = {
        name: (Quantity(dimension, amount, ""),)
        for name, dimension, amount in (
            ("confidence", _SHARE, sure),
            ("reliability", _SHARE, good),
            ("lot", _COUNT, pieces),
        )
        if amount is not None
    }
    size = RECKONINGS["sample size"].compute(inputs)
    if size is None or not isinstance(size.value, Quantity):
        raise TypeError("a sample size is a count")
    return sheet(
        typed,
        name="sample",
        title="How many to look at",
        results=(Step("pieces to look at", "", size.value.amount, _COUNT),),
        steps=size.steps,
        reckonings=("sample size",),
        notes=(
            "None of them may have a fault; draw them where chance says, not where they look best.",
        ),
    )

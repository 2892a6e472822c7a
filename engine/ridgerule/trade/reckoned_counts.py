"""Reckonings of caps, samples and readings: counts, shares and uncertainties."""

from __future__ import annotations

from ridgerule.facts import Plain
from ridgerule.trade import measurement, sampling, takeoff
from ridgerule.trade.arithmetic import excess
from ridgerule.trade.certainty import not_negative
from ridgerule.trade.reckoning import Found, Given, Input, reckoning
from ridgerule.trade.working import Step, given
from ridgerule.units import Dimension

_LENGTH, _COUNT, _SHARE = Dimension.LENGTH, Dimension.COUNT, Dimension.SHARE
_PRACTICE = "common practice, no source"


def _caps(found: Given) -> Found:
    line = takeoff.CapLine(
        name="line",
        profile="",
        length=found.amount("length"),
        exposure=found.amount("exposure"),
        starts=found.whole("starts"),
        mitres=found.whole("mitres"),
        waste=found.amount("waste") if "waste" in found else 0,
    )
    needed = takeoff.caps_of(line)
    return needed.caps, needed.steps


def _bundles(found: Given) -> Found:
    caps, each = found.amount("caps"), found.whole("caps in a bundle")
    bundles = takeoff.bundles_needed(caps, per_bundle=each)
    steps = (
        given("caps", caps, _COUNT),
        given("caps in a bundle", each, _COUNT),
        Step("bundles", "caps / caps in a bundle, up to a whole bundle", bundles, _COUNT),
    )
    return bundles, steps


def _over(found: Given, *, label: str, of: str, less: str) -> Found:
    most, part = (not_negative(found.amount(n), name=f"a count {n}") for n in (of, less))
    left = excess(most, over=part)
    steps = (
        given(of, most, _COUNT),
        given(less, part, _COUNT),
        Step(label, f"{of} less {less}, at least 0", left, _COUNT),
    )
    return left, steps


def _short(found: Given) -> Found:
    return _over(found, label="caps short", of="needed", less="delivered")


def _surplus(found: Given) -> Found:
    return _over(found, label="caps over", of="delivered", less="needed")


_NEEDED = Input("needed", _COUNT, "caps of the profile that the lines need")
_DELIVERED = Input("delivered", _COUNT, "caps of the profile that came")

CAPS = (
    reckoning(
        "caps needed on a line",
        inputs=(
            Input("length", _LENGTH, "the line's length"),
            Input("exposure", _LENGTH, "cap butt to cap butt"),
            Input("starts", _COUNT, "caps needed besides for starts", optional=True),
            Input("mitres", _COUNT, "caps needed besides for mitres", optional=True),
            Input("waste", _SHARE, "waste as a share of all pieces", optional=True),
        ),
        dimension=_COUNT,
        formula="(length / exposure up to a whole cap + starts + mitres) x (1 + waste), up to a "
        "whole cap",
        source=_PRACTICE,
        work=_caps,
    ),
    reckoning(
        "bundles needed",
        inputs=(
            Input("caps", _COUNT, "caps needed"),
            Input("caps in a bundle", _COUNT, "caps in each bundle"),
        ),
        dimension=_COUNT,
        formula="caps / caps in a bundle, up to a whole bundle",
        source=_PRACTICE,
        work=_bundles,
    ),
    reckoning(
        "caps short",
        inputs=(_NEEDED, _DELIVERED),
        dimension=_COUNT,
        formula="needed less delivered, at least 0",
        source=_PRACTICE,
        work=_short,
    ),
    reckoning(
        "caps over",
        inputs=(_NEEDED, _DELIVERED),
        dimension=_COUNT,
        formula="delivered less needed, at least 0",
        source=_PRACTICE,
        work=_surplus,
    ),
)


def _tape(found: Given) -> Found:
    (name,) = found.words("tape class")
    tape = measurement.TAPE_CLASSES[name]
    part = measurement.of_tape(found.amount("length"), tape=tape)
    whole = measurement.expanded(part)
    return whole.amount, whole.steps


def _graduation(found: Given) -> Found:
    whole = measurement.expanded(measurement.of_graduation(found.amount("graduation")))
    return whole.amount, whole.steps


def _combined(found: Given) -> Found:
    parts = [
        measurement.of_expanded(amount, label=f"part {n}")
        for n, amount in enumerate(found.amounts("uncertainties"), 1)
    ]
    whole = measurement.expanded(measurement.combined(parts))
    return whole.amount, whole.steps


MEASURING = (
    reckoning(
        "uncertainty of a tape",
        inputs=(
            Input("length", _LENGTH, "the length measured"),
            Input(
                "tape class",
                Plain.CHOICE,
                "the accuracy class printed on the tape",
                choices=tuple(measurement.TAPE_CLASSES),
            ),
        ),
        dimension=_LENGTH,
        formula="2 x greatest error of its class / square root of 3",
        source="UK SI 2016/1153 (from EU MI-008; classes I and III recalled); JCGM 100, 4.3.7",
        work=_tape,
    ),
    reckoning(
        "uncertainty of a graduation",
        inputs=(Input("graduation", _LENGTH, "from mark to mark, readings to the nearest"),),
        dimension=_LENGTH,
        formula="2 x graduation / (2 x square root of 3)",
        source="JCGM 100, F.2.2.1",
        work=_graduation,
    ),
    reckoning(
        "combined uncertainty",
        inputs=(
            Input(
                "uncertainties", _LENGTH, "expanded uncertainties (k = 2), independent", many=True
            ),
        ),
        dimension=_LENGTH,
        formula="square root of the sum of their squares",
        source="JCGM 100, 5.1.2",
        work=_combined,
    ),
)


_MOST_IN_A_LOT, _MOST_INSPECTED = 100_000, 1_000
"""Beyond these the exact sums, which no float shortens, would take minutes."""


def _lot(found: Given) -> int | None:
    if "lot" not in found:
        return None
    lot = found.whole("lot")
    if lot > _MOST_IN_A_LOT:
        raise ValueError(f"a lot reckoned exactly holds at most {_MOST_IN_A_LOT:,} pieces")
    return lot


def _sample(found: Given) -> Found:
    asked, reliability = found.exact("confidence"), found.exact("reliability")
    size = sampling.sample_size(asked, reliability=reliability, lot=_lot(found))
    return size.pieces, size.steps


def _reached(found: Given) -> Found:
    inspected, reliability = found.whole("inspected"), found.exact("reliability")
    reached = sampling.confidence_reached(inspected, reliability=reliability, lot=_lot(found))
    return reached.confidence, reached.steps


def _greatest_share(found: Given) -> Found:
    inspected = found.whole("inspected")
    if inspected > _MOST_INSPECTED:
        raise ValueError(f"a share reckoned exactly is of at most {_MOST_INSPECTED:,} inspected")
    bounds = sampling.faulty_share(
        found.whole("faulty"),
        inspected=inspected,
        confidence=found.exact("confidence"),
        sides=sampling.Sides.UPPER,
    )
    steps = tuple(step for step in bounds.steps if step.label != "least faulty")
    return bounds.greatest, steps


_CONFIDENCE = Input("confidence", _SHARE, "how sure to be, such as 95 %")
_RELIABILITY = Input("reliability", _SHARE, "the share that is to be without fault")
_LOT = Input("lot", _COUNT, "how many pieces there are in all", optional=True)
_INSPECTED = Input("inspected", _COUNT, "how many were looked at")

SAMPLING = (
    reckoning(
        "sample size",
        inputs=(_CONFIDENCE, _RELIABILITY, _LOT),
        dimension=_COUNT,
        formula="the fewest pieces that, all without fault, show it: least n with reliability^n "
        "<= 1 - confidence, or by the lot",
        source="success run; ISPM 31 for a lot (recalled)",
        work=_sample,
    ),
    reckoning(
        "confidence reached",
        inputs=(_INSPECTED, _RELIABILITY, _LOT),
        dimension=_SHARE,
        formula="1 - the chance that as many would show no fault at that reliability",
        source="success run; ISPM 31 for a lot (recalled)",
        work=_reached,
    ),
    reckoning(
        "greatest faulty share",
        inputs=(Input("faulty", _COUNT, "how many were faulty"), _INSPECTED, _CONFIDENCE),
        dimension=_SHARE,
        formula="the share at which as few or fewer faulty would be found with a chance of 1 - "
        "confidence (Clopper-Pearson, upper bound)",
        source="NIST/SEMATECH e-Handbook (recalled)",
        work=_greatest_share,
    ),
)

"""`ridgerule reckon cap`: each way of choosing, the one that governs, and where they differ."""

from __future__ import annotations

import json
import math
import re
from typing import TYPE_CHECKING

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from ridgerule.cli.app import run

if TYPE_CHECKING:
    from pathlib import Path

CAPS = (160, 120, 90)
WAYS = ("cap by chart", "cap by nearest angle", "cap by measured angle")
GOVERNS, AGREE = "cap that governs", "the ways agree"
ASK = "measure the angle and ask the cap's maker"


@pytest.fixture
def cap(capfd: pytest.CaptureFixture[str]):
    """Return a function that runs `reckon cap`: its status and its results by label."""

    def reckoned(*arguments: str) -> tuple[int, dict[str, str | None]]:
        status = run(["reckon", "cap", *arguments, "--format", "json"])
        out, err = capfd.readouterr()
        assert err == "", err
        found = json.loads(out)
        return status, {r["label"]: r.get("text", r.get("words")) for r in found["results"]}

    return reckoned


@pytest.fixture
def shell(capfd: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch):
    """Return a function that runs `reckon cap`: its status, standard output and error."""
    monkeypatch.setenv("COLUMNS", "200")

    def reckoned(*arguments: str) -> tuple[int, str, str]:
        status = run(["reckon", "cap", *arguments])
        return status, *capfd.readouterr()

    return reckoned


def _square(slope: str, *more: str) -> tuple[str, ...]:
    return ("--kind", "hip", "--slopes", slope, "--corner", "90", *more)


def _ridge(*slopes: str) -> tuple[str, ...]:
    return ("--kind", "ridge", "--slopes", *slopes)


# Common practice, no source: the chart, and the caps made for 160, 120 and 90 deg. The nearest
# angle is worked out here from the angle that trigonometry gives.
CHART_OF_HIPS = {**dict.fromkeys(range(1, 6), 160), **dict.fromkeys(range(6, 15), 120)}
CHART_OF_HIPS |= dict.fromkeys(range(15, 25), 90)
CHART_OF_RIDGES = {**dict.fromkeys(range(1, 5), 160), **dict.fromkeys(range(5, 11), 120)}
CHART_OF_RIDGES |= dict.fromkeys(range(11, 25), 90)


def _nearest(degrees: float) -> int:
    return min(CAPS, key=lambda cap: abs(cap - degrees))


@pytest.mark.parametrize(
    ("kind", "differ"), [("hip", {6, *range(15, 21)}), ("ridge", {10})], ids=("hip", "ridge")
)
def test_the_chart_and_the_nearest_angle_differ_where_practice_has_it(kind, differ, cap) -> None:
    """Common practice, no source: at 6:12 and 15:12 to 20:12 on hips, at 10:12 on ridges."""
    chart = CHART_OF_HIPS if kind == "hip" else CHART_OF_RIDGES
    found = set()
    for rise, by_chart in chart.items():
        tip = math.atan(rise / 12)
        angle = math.degrees(
            math.pi - 2 * tip if kind == "ridge" else math.acos(-(math.cos(tip) ** 2))
        )
        line = _square(f"{rise}:12") if kind == "hip" else _ridge(f"{rise}:12")
        status, said = cap(*line)
        assert said[WAYS[0]] == said[GOVERNS] == f"{by_chart} deg"
        assert said[WAYS[1]] == f"{_nearest(angle)} deg"
        assert status == (0 if by_chart == _nearest(angle) else 4)
        assert (said[AGREE] == f"they name different caps; {ASK}") is (status == 4)
        found |= {rise} if status == 4 else set()
    assert len(chart) == 24
    assert found == differ


def test_between_two_rows_the_chart_names_none(cap) -> None:
    """5.5:12 lies between 5:12 and 6:12: the nearest angle is told, and does not stand in."""
    status, said = cap(*_square("5.5:12"))
    assert status == 4
    assert said[WAYS[0]] == "names none: the table has no row for hip, 5.5:12"
    assert said[WAYS[1]] == "160 deg"
    assert said[GOVERNS] == f"cap by chart names none; {ASK}"


def test_a_tie_names_both(cap) -> None:
    """Planes of 15 and 25 deg make 140 deg, as far from 160 as from 120 (worked by hand)."""
    status, said = cap(*_ridge("15deg", "25deg"))
    assert status == 4
    assert said["angle inside the roof"] == "140 deg"
    assert said[WAYS[1]].startswith("names none: 160 deg and 120 deg are as near as each other")
    assert said[GOVERNS] == f"cap by nearest angle names none; {ASK}"
    status, said = cap(*_ridge("15deg", "25deg"), "--angle", "141")
    assert (status, said[GOVERNS]) == (0, "160 deg")
    status, said = cap(*_ridge("8:12", "9:12"), "--angle", "105")
    assert (status, said[GOVERNS]) == (
        4, "cap by measured angle names none; the angle is measured, so ask the cap's maker",
    )  # fmt: skip


@pytest.mark.parametrize(
    ("arguments", "governs", "way", "status"),
    [
        (_square("7:12"), "120 deg", 0, 0),
        (_square("20deg"), "160 deg", 0, 0),
        (("--kind", "hip", "--slopes", "7:12", "--faces", "180", "90"), "120 deg", 0, 0),
        # Unequal slopes, an octagon, and a ridge whose planes don't face opposite ways.
        (("--kind", "hip", "--slopes", "8:12", "10:12", "--corner", "90"), "120 deg", 1, 0),
        (("--kind", "hip", "--slopes", "7:12", "--corner", "135"), "160 deg", 1, 0),
        (("--kind", "hip", "--slopes", "7:12", "--faces", "180", "225"), "160 deg", 1, 0),
        (_ridge("7:12", "8:12"), "120 deg", 1, 0),
        (("--kind", "ridge", "--slopes", "7:12", "--faces", "0", "170"), "120 deg", 1, 0),
        # Measured: it governs, and a difference is told nonetheless.
        (_square("7:12", "--angle", "138"), "120 deg", 2, 0),
        (_square("7:12", "--angle", "141 deg"), "160 deg", 2, 4),
        (_square("15:12", "--angle", "113"), "120 deg", 2, 4),
        (_square("5.5:12", "--angle", "146"), "160 deg", 2, 0),
    ],
    ids=lambda c: " ".join(c) if isinstance(c, tuple) else None,
)
def test_which_way_governs(arguments, governs, way, status, cap) -> None:
    """Measured where there is one, the chart where it is for the line, else the nearest angle."""
    found, said = cap(*arguments)
    assert (found, said[GOVERNS]) == (status, governs)
    assert said["what governs"].startswith(f"{WAYS[way]}: ")


def test_a_measured_angle_is_shown_beside_the_computed_one(cap) -> None:
    """Both angles and what lies between them: 138.25 computed, 133.5 read."""
    _, said = cap(*_square("7:12"), "--angle", "133.5deg")
    assert said["angle inside the roof"] == "≈ 138.25 deg"
    assert said["angle measured"] == "133.5 deg"
    assert said["difference"] == "≈ 4.75 deg"


def test_the_sheet_is_whole(shell) -> None:
    """Drawing, working down to each cap with its row's line, sources; the same in JSON."""
    status, out, err = shell(*_square("6:12", "--angle", "143"))
    assert (status, err) == (4, "")
    head, _, rest = out.partition("WORKING")
    assert re.search(r"_/ +\\_", head)
    assert re.search(
        r"cap by chart: row of the chart for hip, 6:12 to 14:12 \(rulebooks/practice/hip-and-ridge@"
        r"2026-11\.yaml:\d+\) = 120 deg",
        rest,
    )
    for value, computed, measured in (
        (160, "16.87", "17"),
        (120, "23.13", "23"),
        (90, "53.13", "53"),
    ):
        words = "the greater less the lesser"
        assert f"from {value} deg to the angle inside the roof: {words} ≈ {computed} deg" in rest
        assert f"from {value} deg to the angle measured: {words} = {measured} deg" in rest
    assert "common practice, no source" in rest.partition("SOURCES")[2]
    assert "BEFORE ANYONE GOES BACK UP" in rest


INVENTED = """\
rulebook: test/caps
title: Invented
edition: 1
sources: {us: {basis: invented}}
derive:
  line.cap_by_angle:
    dimension: angle
    measure: nearest of two caps
    nearest_of: {to: line.included_angle, values: [150 deg, 100 deg]}
rules: []
"""


@pytest.fixture
def invented(tmp_path: Path) -> str:
    """Return the file of a rulebook with profiles of its own and no chart."""
    file = tmp_path / "caps@1.yaml"
    file.write_text(INVENTED)
    return str(file)


def test_another_makers_profiles_are_yaml_alone(invented, cap) -> None:
    """A rulebook without a chart goes by the nearest of its own profiles."""
    status, said = cap(*_square("7:12"), "--against", invented)
    assert (status, said[GOVERNS]) == (0, "150 deg")
    assert said[WAYS[0]] == "has no say: the rulebook computes no `line.cap_by_chart`"
    assert "computes no `line.cap_by_chart`" in said["what governs"]
    # What was measured is not passed over.
    status, said = cap(*_square("7:12"), "--against", invented, "--angle", "101")
    assert status == 4
    assert said[GOVERNS].startswith("cap by measured angle names none")


@pytest.mark.parametrize(
    ("arguments", "told"),
    [
        (("--kind", "hip"), ["--corner", "--slopes"]),
        (_square("7:12", "--angle", "x"), ["--angle"]),
        (_square("7 in", "--angle", "x"), ["--slopes", "--angle"]),
        (_square("7:12", "--angle", "400"), ["--angle"]),
        (("--kind", "hip", "--slopes", "7:12", "--faces", "400", "90"), ["--faces"]),
        (("--kind", "hip", "--slopes", "7:12", "--corner", "270"), ["--corner"]),
        ((*_ridge("7:12"), "--corner", "90"), ["--corner"]),
        (_square("7:12", "--against", "code/model-residential@2024"), ["--against"]),
        (_square("7:12", "--against", "no/such"), ["--against"]),
        (_square("7:12", "--against", "no-such.yaml"), ["no-such.yaml"]),
        ((*_square("7:12")[:-1], "180"), ["reckon cap"]),
    ],
    ids=" ".join,
)  # fmt: skip
def test_mistakes_are_told(arguments, told, shell) -> None:
    """Each mistake is a line on stderr with its flag; the status is 2 and nothing is printed."""
    status, out, err = shell(*arguments)
    assert (status, out) == (2, "")
    assert sorted(line.partition(":")[0] for line in err.splitlines()) == sorted(told)


@settings(
    max_examples=40, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
@given(
    a=st.integers(1, 24),
    b=st.integers(1, 24),
    corner=st.integers(60, 170),
    angle=st.integers(60, 179),
)
def test_no_disagreement_is_hidden(a, b, corner, angle, cap) -> None:
    """Whatever the line, status 0 means one cap named by every way that has a say."""
    line = ("--kind", "hip", "--slopes", f"{a}:12", f"{b}:12", "--corner", f"{corner}")
    status, said = cap(*line, "--angle", f"{angle}")
    named = {said[way] for way in WAYS if said[way].endswith("deg")}
    has_none = said[GOVERNS].endswith("maker")
    assert status == (0 if len(named) == 1 and not has_none else 4)
    swapped = (*line[:3], line[4], line[3], *line[5:])
    assert cap(*swapped, "--angle", f"{angle}")[1] == said

"""`ridgerule reckon takeoff`: caps by line, held against what came, and where each belongs."""

from __future__ import annotations

import json
import re
import shlex
from fractions import Fraction

import pytest

from ridgerule.cli import reckon
from ridgerule.cli.app import run
from ridgerule.cli.reckon_takeoff import enough_of
from ridgerule.enclosures import Span
from ridgerule.reports.cautions import CAUTIONS, DISCLAIMER
from ridgerule.trade.takeoff import Supply

# An invented roof. Worked by hand, exposure 8 in and waste 5 %:
#   H1: 220 in / 8 in = 27.5, so 28; + 1 + 1 = 30; x 1.05 = 31.5, so 32.
#   H2: 144 in / 8 in = 18; + 1 + 1 = 20; x 1.05 = 21.
#   R1: 264 in / 8 in = 33; x 1.05 = 34.65, so 35.
LINES = (
    "--line", "H1, 120 deg, 18 ft 4 in, 1, 1",
    "--line", "H2, 120 deg, 12 ft, 1, 1",
    "--line", "R1, 160 deg, 22 ft, 0, 0",
)  # fmt: skip
ROOF = (*LINES, "--exposure", "8 in", "--waste", "5 %")
# Invented bundles. Worked by hand: of 120 deg 53 are needed and 40 came; of 160 deg 35 and 40; of
# 90 deg none and 20. H1 takes all of b1 and 12 of b2, H2 the 8 left of b2, R1 35 of the 40 of b3.
CAME = ("--came", "b1, 120 deg, 20", "b2, 120 deg, 20", "b3, 160 deg, 40", "b4, 90 deg, 20")
HELD = {
    "enough of 120 deg": "✗ no: needed 53, came 40, 13 short",
    "enough of 160 deg": "✓ yes: needed 35, came 40, 5 over",
    "wrong profile": "90 deg: 20 came, and no line takes it",
    "H1, from b1": "20",
    "H1, from b2": "12",
    "H2, from b2": "8",
    "H2, still lacking": "13",
    "R1, from b3": "35",
    "b3, on no line": "5",
    "b4, of a wrong profile": "20",
}


@pytest.fixture
def shell(capfd: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch):
    """Return a function that runs `reckon takeoff`: its status, standard output and error."""
    monkeypatch.setenv("COLUMNS", "80")
    monkeypatch.setenv("NO_COLOR", "1")

    def reckoned(*arguments: str) -> tuple[int, str, str]:
        status = run(["reckon", "takeoff", *arguments])
        return status, *capfd.readouterr()

    return reckoned


def _results(text: str) -> dict[str, str]:
    """Return the labels and values under the rule, up to the first blank line."""
    lines = text.splitlines()[2:]
    pairs = (re.split(r" {2,}", line.strip()) for line in lines[: lines.index("")])
    return {pair[0]: pair[1] for pair in pairs}


# what is needed and came


@pytest.mark.parametrize("width", [80, 120])
def test_a_roof_is_held_against_what_came(width, shell, monkeypatch) -> None:
    """Short, over, of a wrong profile, and each bundle's lines, as worked by hand above."""
    monkeypatch.setenv("COLUMNS", str(width))
    status, out, err = shell(*ROOF, *CAME)
    assert (status, err) == (0, "")
    # In this order: by profile, the wrong one, then line by line.
    assert list(_results(out).items()) == list(HELD.items())
    rows = [line.split() for line in out.partition("line  profile")[2].splitlines()[1:4]]
    assert [(row[0], row[1], row[-1]) for row in rows] == [
        ("H1", "120", "32"), ("H2", "120", "21"), ("R1", "160", "35"),
    ]  # fmt: skip
    assert max(map(len, out.splitlines())) <= width


def test_the_working_and_the_cautions_are_shown(shell) -> None:
    """Each line's working leads to its caps, and every caution follows."""
    _, out, _ = shell(*ROOF, *CAME)
    folded = " ".join(out.split())
    assert "H1, courses: length / exposure, up to a whole cap = 28" in folded
    assert "H1, pieces: courses + 1 for starts + 1 for mitres = 30" in folded
    assert "caps of profile 120 deg: H1 + H2 = 53" in folded
    assert "profile 120 deg, short: needed less delivered, at least 0 = 13" in folded
    assert "common practice, no source" in folded
    assert all(caution in folded for caution in CAUTIONS)
    assert DISCLAIMER in folded


def test_as_data(shell) -> None:
    """In JSON the same results have counts that read back, and what was typed is there whole."""
    status, out, _ = shell(*ROOF, *CAME, "--format", "json")
    assert status == 0
    data = json.loads(out)
    found = {result["label"]: result for result in data["results"]}
    assert list(found) == list(HELD)
    assert [found[f"enough of {p} deg"]["answer"] for p in (120, 160)] == [False, True]
    laid = {label: int(Fraction(r["exact"])) for label, r in found.items() if "exact" in r}
    assert laid == {label: int(words) for label, words in HELD.items() if words.isdigit()}
    caps = {s["label"]: s["text"] for s in data["working"] if s["label"].endswith(", caps")}
    assert caps == {"H1, caps": "32", "H2, caps": "21", "R1, caps": "35"}  # worked by hand above
    assert data["given"]["line"] == list(LINES[1::2])
    assert data["given"]["came"] == list(CAME[1:])
    assert (data["of"], data["is_told"]) == ("takeoff", True)


def test_just_enough_is_said_so(shell) -> None:
    """As many as needed, whatever spelling their profile has: none short, over or wrong."""
    status, out, _ = shell(
        "--line", "R, 120, 80 in, 0, 0", "--exposure", "8 in", "--waste", "0 %",
        "--came", "b, 120.0deg, 10",
    )  # fmt: skip
    assert status == 0
    # Worked by hand: 80 / 8 is 10.
    assert _results(out) == {
        "enough of 120 deg": "✓ yes: needed 10, came 10, none over",
        "wrong profile": "none came",
        "R, from b": "10",
    }


def test_a_profile_of_which_nothing_came_is_short(shell) -> None:
    """A line whose profile no bundle has lacks all its caps."""
    _, out, _ = shell(*ROOF, "--came", "b, 120 deg, 53")
    found = _results(out)
    assert found["enough of 120 deg"] == "✓ yes: needed 53, came 53, none over"
    assert found["enough of 160 deg"] == "✗ no: needed 35, came 0, 35 short"
    assert found["R1, still lacking"] == "35"


def test_without_a_delivery_the_need_is_told(shell) -> None:
    """Nothing said to have come is no delivery of nothing: nothing is called short."""
    status, out, _ = shell(*ROOF)
    assert status == 0
    assert _results(out) == {"120 deg, caps needed": "53", "160 deg, caps needed": "35"}
    assert "Nothing was said to have come: only the need is told." in out
    assert "short" not in out


def test_what_was_not_said_is_not_passed_over(shell) -> None:
    """Starts, mitres and waste left out are counted as none, and the sheet says so."""
    _, out, _ = shell(
        "--line", "H1, 120 deg, 80 in", "H2, 120 deg, 80 in, 1", "--exposure", "8 in"
    )  # fmt: skip
    assert "No starts were said for H1: none are counted." in out
    assert "No mitres were said for H1, H2: none are counted." in out
    assert "No waste was said: none is counted." in out
    assert _results(out) == {"120 deg, caps needed": "21"}  # worked by hand: 10 + 10 + 1
    _, out, _ = shell(*ROOF)
    assert "were said" not in out
    assert "No waste" not in out


@pytest.mark.parametrize(
    ("short", "surplus", "is_so", "words"),
    [
        (Span(0, 2), Span(0, 1), None, "needed 9 to 12, came 10, 0 to 2 short"),
        (0, Span(0, 3), True, "needed 9 to 12, came 10, 0 to 3 over"),
    ],
)
def test_a_need_known_only_between_two_counts(short, surplus, is_so, words) -> None:
    """Where it decides, the answer is left open; where it doesn't, the surplus is told as it is."""
    supply = Supply("120 deg", True, Span(9, 12), 10, short, surplus)
    answer = enough_of(supply)
    assert (answer.is_so, answer.words) == (is_so, words)


# typing


def test_a_comma_in_a_number_parts_nothing(shell) -> None:
    """`1,200 mm` is one length where a space follows the commas between; without any, commas do."""
    metric = ("--exposure", "200 mm", "--waste", "0 %")
    # Worked by hand: 1200 / 200 is 6.
    for line in (
        "R, 120 deg, 1,200 mm, 0, 0",
        "R,120 deg,1200 mm,0,0",
        " R ,  120 deg, 1.2 m, 0, 0",
    ):
        status, out, err = shell("--line", line, *metric)
        assert (status, err) == (0, "")
        assert _results(out) == {"120 deg, caps needed": "6"}
        assert re.search(r"^R +120 deg +1\.2 m +6$", out, re.MULTILINE), out
    status, out, err = shell("--line", "R,120 deg,1,200 mm", *metric)
    assert (status, out) == (2, "")
    assert "in `R,120 deg,1,200 mm`" in err


def test_units_asked_for_are_printed(shell) -> None:
    """Lengths typed in feet are printed in metres where that is asked for."""
    _, out, _ = shell(*ROOF, "--units", "metric")
    assert re.search(r"^H2 +120 deg +3\.6576 m +21$", out, re.MULTILINE)  # 12 x 0.3048, by hand


@pytest.mark.parametrize("width", [80, 120])
def test_the_longest_names_fit(width, shell, monkeypatch) -> None:
    """A name of 24 characters is taken, on the narrowest page too; one of 25 is not."""
    monkeypatch.setenv("COLUMNS", str(width))
    name, bundle = "h" * 24, "b" * 24
    held = ("--exposure", "8 in", "--came", f"{bundle}, 90 deg, 3", "c, 120 deg, 2")
    status, out, _ = shell("--line", f"{name}, 120 deg, 18 ft 4 1/16 in", *held)
    assert status == 0
    assert max(map(len, out.splitlines())) <= width
    assert f"{name}, from c" in out
    status, _, err = shell("--line", f"{name}h, 120 deg, 18 ft", *held)
    assert status == 2
    assert "a name of 1 to 24 characters" in err


@pytest.mark.parametrize(
    ("arguments", "told"),
    [
        ((), [("--exposure", "nothing"), ("--line", "nothing")]),
        (("--line", "H1", *ROOF[-4:]), [("--line", "1 part, in `H1`")]),
        (("--line", "H1, 120, 9 ft, 1, 1, 1", *ROOF[-4:]), [("--line", "6 parts")]),
        ((*ROOF, "--came", "b, 120 deg"), [("--came", "2 parts")]),
        ((*ROOF, "--came", "b, 120 deg, 1.5"), [("--came", "`1.5`, which is not whole")]),
        ((*ROOF, "--came", "b, 120 deg, -2"), [("--came", "`-2`, which is less than 0")]),
        ((*ROOF, "--came", ", 120 deg, 2"), [("--came", "no name")]),
        ((*ROOF, "--line", "H1, 90 deg, 9 ft"), [("--line", "`H1` 2 times")]),
        ((*ROOF, "--came", "b, 120, 2", "b, 90, 2"), [("--came", "`b` 2 times")]),
        ((*LINES, "--exposure", "0 in"), [("--exposure", "`0 in`")]),
        ((*LINES, "--exposure", "8"), [("--exposure", "`8` without a unit")]),
        ((*LINES, "--exposure", "8 in", "--waste", "-5 %"), [("--waste", "`-5 %`")]),
        (("--line", "\x1b[31m, 120, 9 ft", *ROOF[-4:]), [("--line", "`\\x1b[31m`")]),
        # Everything at once, in the order of the flags and of what was expected.
        (("--line", "H1, x, 18, 1.5", "H2, 180, 0 ft", "--exposure", "x", "--waste", "5",
          "--came", "b, 0, x"),
         [("--came", "`x`"), ("--came", "`0 deg`"), ("--exposure", "`x`"), ("--line", "`1.5`"),
          ("--line", "`0 ft`"), ("--line", "`18`"), ("--line", "`180 deg`"), ("--line", "`x`"),
          ("--waste", "`5`")]),
    ],
    ids=lambda c: " ".join(map(str, c))[-50:],
)  # fmt: skip
def test_mistakes_are_told_all_at_once(arguments, told, shell) -> None:
    """Each is one line on stderr: its flag, what was expected, found, and what to do; status 2."""
    status, out, err = shell(*arguments)
    assert (status, out) == (2, "")
    assert "\x1b" not in err
    lines = err.splitlines()
    assert len(lines) == len(told), err
    for line, (flag, found) in zip(lines, told, strict=True):
        assert line.startswith(f"{flag}: expected ")
        assert found in line.partition("; found ")[2], line
        assert line.rpartition("; ")[2]
        assert line.count("; ") >= 2


# help


def test_the_example_in_the_help_runs(shell) -> None:
    """What `--help` shows is taken as it stands, and its caps are those worked by hand."""
    command = next(c for c in reckon.app.registered_commands if c.callback is reckon.takeoff)
    words = shlex.split(command.epilog.partition(": ")[2])
    assert words[:3] == ["ridgerule", "reckon", "takeoff"]
    status, out, err = shell(*words[3:])
    assert (status, err) == (0, "")
    # Worked by hand: 28 + 1 = 29, x 1.05 = 30.45, so 31; R1 as above.
    assert _results(out)["enough of 120 deg"] == "✗ no: needed 31, came 20, 11 short"
    assert _results(out)["enough of 160 deg"] == "✗ no: needed 35, came 0, 35 short"
    status, out, _ = shell("--help")
    assert status == 0
    assert 'ridgerule reckon takeoff --line "H1, 120 deg, 18 ft 4 in, 1"' in " ".join(out.split())

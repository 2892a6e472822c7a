"""`ridgerule reckon`: figures typed in, results with their working, and statuses."""

from __future__ import annotations

import json
import re
import shlex
import subprocess
import sys
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from ridgerule.cli import reckon
from ridgerule.cli.app import run
from ridgerule.cli.reckon_drawing import section, slope_section
from ridgerule.cli.reckon_input import spread
from ridgerule.reports.cautions import CAUTIONS, DISCLAIMER

COMMAND = (sys.executable, "-c", "from ridgerule.cli import main; main()")
HIP = ("angle", "--kind", "hip", "--slopes", "8:12", "10:12", "--corner", "90")
STACK = ("fastening", "--passes", "1/4 in", "1/4 in", "--length")
EXAMPLES = {
    command.name or command.callback.__name__: shlex.split(command.epilog.partition(": ")[2])
    for command in reckon.app.registered_commands
    if command.callback is not None
}


@pytest.fixture(autouse=True)
def _plain(monkeypatch: pytest.MonkeyPatch) -> None:
    """Give every test a screen of 80 columns, without colour."""
    monkeypatch.setenv("COLUMNS", "80")
    monkeypatch.setenv("NO_COLOR", "1")


@pytest.fixture
def shell(capfd: pytest.CaptureFixture[str]):
    """Return a function that runs `reckon`: its status, standard output and standard error."""

    def reckoned(*arguments: str) -> tuple[int, str, str]:
        status = run(["reckon", *arguments])
        told = capfd.readouterr()
        return status, told.out, told.err

    return reckoned


def _results(text: str) -> dict[str, str]:
    """Return the labels and values under the rule, up to the first blank line."""
    lines = text.splitlines()[2:]
    pairs = (re.split(r" {2,}", line.strip()) for line in lines[: lines.index("")])
    return {pair[0]: pair[1] for pair in pairs if len(pair) == 2}


# examples


def test_every_command_has_an_example() -> None:
    """The list of commands is the one held here, and each shows an example of itself."""
    assert list(EXAMPLES) == [
        "angle", "cap", "hip", "slope", "fastening", "ventilation", "movement",
        "caps", "takeoff", "tape",
        "sample",
    ]  # fmt: skip
    assert all(words[:3] == ["ridgerule", "reckon", name] for name, words in EXAMPLES.items())


@pytest.mark.parametrize("width", [80, 120])
@pytest.mark.parametrize("name", EXAMPLES)
def test_the_example_in_the_help_runs(name, width, shell, monkeypatch) -> None:
    """It ends with status 0 and a sheet of all its parts, as wide as the screen at most."""
    monkeypatch.setenv("COLUMNS", str(width))
    status, out, err = shell(*EXAMPLES[name][2:])
    assert (status, err) == (0, "")
    parts = ("WORKING", "SOURCES", "BEFORE ANYONE GOES BACK UP", "WHAT THIS IS")
    assert [line for line in out.splitlines() if line in parts] == list(parts)
    assert max(map(len, out.splitlines())) <= width
    assert "\x1b" not in out
    assert all(line == line.rstrip() for line in out.splitlines())
    folded = " ".join(out.split())
    assert all(caution in folded for caution in CAUTIONS)
    assert DISCLAIMER in folded


@pytest.mark.parametrize("name", EXAMPLES)
def test_the_help_shows_the_example(name, shell) -> None:
    """`--help` ends with status 0 and names the command's example."""
    status, out, err = shell(name, "--help")
    assert (status, err) == (0, "")
    assert f"ridgerule reckon {name}" in out
    assert "Example:" in out


@pytest.mark.parametrize("name", EXAMPLES)
def test_the_example_as_data(name, shell) -> None:
    """The same sheet in JSON has no float in it, and its exact values read back as fractions."""

    def refuse(number: str) -> float:
        raise AssertionError(number)

    status, out, err = shell(*EXAMPLES[name][2:], "--format", "json")
    assert (status, err) == (0, "")
    data = json.loads(out, parse_float=refuse)
    assert data["of"] == name
    assert data["is_told"] is True
    assert data["cautions"] == list(CAUTIONS)
    assert DISCLAIMER in data["disclaimer"]
    for step in (*data["working"], *data["results"]):
        assert step["label"]
        assert {"answer", "exact", "bound", "at_least", "words"} & set(step)
        if "exact" in step:
            assert Fraction(step["exact"]) is not None
    assert out == out.encode().decode()


def test_the_console_script_runs_it() -> None:
    """In a process of its own it prints the same, and its mistakes end with status 2."""
    done = subprocess.run([*COMMAND, "reckon", *HIP], capture_output=True, text=True, check=False)
    assert (done.returncode, done.stderr) == (0, "")
    assert "129.73 deg" in done.stdout
    done = subprocess.run(
        [*COMMAND, "reckon", *HIP[:-1], "x"], capture_output=True, text=True, check=False
    )
    assert (done.returncode, done.stdout) == (2, "")
    assert done.stderr.startswith("--corner: expected an angle")


def test_an_audit_loads_nothing_of_it() -> None:
    """Start-up is imports: an audit loads none of `reckon`, and `--help` lists it nonetheless."""
    script = (
        "import sys\nfrom ridgerule.cli.app import run\n"
        "run(sys.argv[1:])\n"
        "print(*(name for name in sys.modules if '.reckon' in name), file=sys.stderr)"
    )
    for arguments, loaded in ((["demo"], set()), (["--help"], {"ridgerule.cli.reckon_cap"})):
        done = subprocess.run(
            [sys.executable, "-c", script, *arguments], capture_output=True, text=True, check=True
        )
        found = set(done.stderr.splitlines()[-1].split())
        ours = {name for name in found if name.startswith("ridgerule.cli.")}
        assert ours >= loaded
        assert bool(ours) is bool(loaded)
        assert "reckon" in done.stdout or not loaded


def test_a_slip_in_its_name_is_told(capfd) -> None:
    """Though it is loaded late, it is suggested as any command is."""
    assert run(["recon"]) == 2
    assert "Did you mean 'reckon'?" in capfd.readouterr().err


# values


@pytest.mark.parametrize(
    ("arguments", "label", "value"),
    [
        # Trade article, recomputed: backings 20.275 and 29.993 leave 129.732.
        (HIP, "angle inside the roof", "≈ 129.73 deg"),
        # Exact identity, computed: a square hip at 12:12.
        (("angle", "--kind", "hip", "--slopes", "12:12", "--faces", "180", "90"),
         "angle inside the roof", "120 deg"),
        (("angle", "--kind", "valley", "--slopes", "12:12", "--corner", "270"),
         "angle inside the roof", "240 deg"),
        (("angle", "--kind", "ridge", "--slopes", "30deg", "60deg"),
         "angle inside the roof", "90 deg"),
        # US Navy, NAVEDTRA 14044: 8:12, run 15 ft, hip length 23.45 ft.
        (("hip", "--slopes", "8:12", "--run", "15 ft"), "hip length", "≈ 23 ft 5.425 in"),
        (("hip", "--slopes", "8:12", "--plan-run", "21.21 ft"), "hip length", "≈ 23 ft 5.382 in"),
        # Exact identity, computed: hip factor 1.5 at 6:12.
        (("hip", "--slopes", "6:12", "6:12"), "hip factor, per common run", "1.5"),
        # Trade reference, recomputed: 31.6297 deg on an octagon at 8:12.
        (("hip", "--slopes", "8:12", "--corner", "135"), "hip angle from level", "≈ 31.63 deg"),
        # US Navy, NAVEDTRA 14044, fig. 2-17: 9 ft 3-1/8 in.
        (("slope", "7:12", "--run", "8 ft"), "rafter length", "≈ 9 ft 3.140 in"),
        (("slope", "9:12"), "slope factor", "1.25"),
        # Worked by hand.
        ((*STACK, "1 3/4 in", "--deck", "19/32 in"), "penetration", "1 1/4 in"),
        (("fastening", "--protrusion", "1/8 in", "--deck", "19/32 in"), "penetration", "23/32 in"),
        ((*STACK, "1 in", "--deck", "1 in", "--least", "3/4 in"),
         "length needed, at least", "1 1/4 in"),
        # Prior Lake MN permit record, 2002: 10,600 ft2 at 1/300.
        (("ventilation", "--area", "10600 ft2", "--divisor", "300", "--ridge", "180 ft",
          "18 in2/ft", "--eaves", "428 ft", "7.4 in2/ft"), "required", "5088 in²"),
        # Worked by hand: 1 ft2 is short, 144 / 18.
        (("ventilation", "--area", "300 ft2", "--divisor", "1/300", "--cure", "18 in2/ft"),
         "vent that cures it", "8 ft 0 in"),
        # Worked by hand: 1000 mm of 100 um/m/degC over 10 degC grow 1 mm.
        (("movement", "--gap", "70 mm", "--edges", "500 mm", "500 mm", "--expansion",
          "100 um/m/degC", "--read-at", "20 degC", "--to", "-10 degC", "30 degC"),
         "gap left at 30 degC", "69 mm"),
        # Computed: 216 in / 7 in is 31; + 3 = 34; x 1.05, so 36 (an invented line).
        (("caps", "--lengths", "18 ft", "--exposure", "7 in", "--starts", "1", "--mitres", "2",
          "--waste", "5 %"), "caps needed", "36"),
        # UK SI 2016/1153: 5 m by class II is within 1.3 mm.
        (("tape", "--length", "5 m"), "greatest error allowed to it", "1.3 mm"),
        # Success run (recalled): 95/90 needs 29.
        (("sample", "--confidence", "95 %", "--reliability", "90 %"), "pieces to look at", "29"),
    ],
    ids=lambda c: " ".join(c)[:48] if isinstance(c, tuple) else c,
)  # fmt: skip
def test_published_values_come_out(arguments, label, value, shell) -> None:
    """The result named is the published or hand-worked one."""
    status, out, err = shell(*arguments)
    assert (status, err) == (0, "")
    found = _results(out)[label]
    assert found == value.replace("8 ft 0 in", "8 ft")


def test_units_asked_for_are_printed(shell) -> None:
    """Inches typed print in millimetres where that is asked for, and metric by itself."""
    _, out, _ = shell(*STACK, "1 3/4 in", "--units", "metric")
    assert _results(out)["penetration"] == "31.75 mm"
    _, out, _ = shell("fastening", "--passes", "6 mm", "--length", "40 mm")
    assert _results(out)["penetration"] == "34 mm"


def test_permit_figures_are_told_in_whole_square_inches(shell) -> None:
    """Prior Lake MN permit record, 2002: 5,088 needed; 3,240 high and 3,167 low make 6,407."""
    _, out, _ = shell(
        "ventilation", "--area", "10600 ft2", "--divisor", "300",
        "--ridge", "180 ft", "18 in2/ft", "--eaves", "428 ft", "7.4 in2/ft",
    )  # fmt: skip
    assert "required 5088, high 3240, low 3167, in all 6407" in " ".join(out.split())


def test_what_the_figures_leave_open_is_status_4(shell) -> None:
    """A panel that is through where thin and not where thick can't be told, and says so."""
    panel = ("--deck-from", "0.563 in", "--deck-to", "0.625 in")  # PS 1, marked 19/32
    status, out, _ = shell(*STACK, "1 1/8 in", *panel, "--least", "3/4 in")
    assert status == 4
    assert _results(out)["through the deck"].startswith("? cannot be told")
    status, out, _ = shell(*STACK, "1 1/8 in", *panel, "--format", "json")
    assert status == 4
    data = json.loads(out)
    assert data["is_told"] is False
    assert {key: data["results"][1][key] for key in ("label", "answer")} == {
        "label": "through the deck",
        "answer": None,
    }
    # At both ends through: told.
    assert shell(*STACK, "1 3/4 in", *panel)[0] == 0


@pytest.mark.parametrize(
    ("measured", "said"), [("128 deg", "✓ yes: within the tolerance"), ("133.5deg", "✗ no: one of")]
)
def test_a_measured_angle_is_held_against_the_computed_one(measured, said, shell) -> None:
    """A difference beyond the tolerance says that one of the readings is wrong."""
    status, out, _ = shell(*HIP, "--measured", measured, "--within", "2")
    assert status == 0
    assert said in out


def test_a_gap_that_closes_is_no(shell) -> None:
    """Edges that press on each other are told as no, with what is left below 0."""
    status, out, _ = shell(
        "movement", "--gap", "1 mm", "--edges", "1 m", "--expansion", "100 um/m/degC",
        "--read-at", "0 degC", "--to", "20 degC",
    )  # fmt: skip
    assert status == 0
    assert _results(out)["gap left at 20 degC"] == "-1 mm"
    assert _results(out)["open at each of them"].startswith("✗ no")


def test_too_few_caps_are_told(shell) -> None:
    """A delivery that is short says by how many."""
    status, out, _ = shell("caps", "--lengths", "70 in", "--exposure", "7 in", "--delivered", "8")
    assert status == 0
    found = _results(out)
    assert (found["enough came"], found["short"], found["over"]) == ("✗ no", "2", "0")


# typing


def test_a_flag_of_several_values_can_be_repeated(shell) -> None:
    """`--slopes a b` and `--slopes a --slopes b` say the same."""
    again = ("--slopes", "8:12", "--slopes", "10:12")
    assert shell(*HIP) == shell("angle", *again, "--corner", "90", "--kind", "hip")
    assert shell(*HIP) == shell("angle", "--slopes=8:12", "10:12", "--corner=90", "--kind=hip")


@pytest.mark.parametrize(
    ("typed", "meant"),
    [
        ("", ""),
        ("--s 1 2 --k 3", "--s 1 --s 2 --k 3"),
        ("--s=1 2", "--s=1 --s 2"),
        ("--to -10 20 -.5 --k -3", "--to -10 --to 20 --to -.5 --k -3"),
        ("x --k 1 2", "x --k 1 2"),
        ("--s 1 -- 2 3", "--s 1 -- 2 3"),
        ("--s --k 1", "--s --k 1"),
        ("--s 1 -h", "--s 1 -h"),
    ],
)
def test_values_get_their_flags(typed, meant) -> None:
    """Each value of a list gets the flag it stands after; nothing else is touched."""
    assert spread(typed.split(), ["--s", "--to"]) == meant.split()


@given(st.lists(st.lists(st.from_regex(r"[0-9]{1,3}", fullmatch=True), min_size=1), max_size=4))
def test_spread_keeps_every_value_in_order(groups) -> None:
    """However the values are grouped under their flag, each comes once and in order."""
    typed = [word for group in groups for word in ("--s", *group)]
    values = [value for group in groups for value in group]
    assert spread(typed, ["--s"]) == [word for value in values for word in ("--s", value)]


@pytest.mark.parametrize(
    ("arguments", "told"),
    [
        (("angle", "--kind", "hip"), ["--corner", "--slopes"]),
        (("angle", "--kind", "hip", "--slopes", "8", "x:12", "--corner", "90 in"),
         ["--corner", "--slopes", "--slopes"]),
        (("angle", "--kind", "hip", "--slopes", "1:12", "2:12", "3:12", "--corner", "90"),
         ["--slopes"]),
        (("angle", "--kind", "ridge", "--slopes", "8:12", "--corner", "90"), ["--corner"]),
        ((*HIP, "--faces", "180", "90"), ["--corner"]),
        ((*HIP[:2], "valley", *HIP[3:]), ["--corner"]),
        ((*HIP, "--measured", "120"), ["--within"]),
        ((*HIP[:-1], "180"), ["reckon angle"]),
        (("hip", "--slopes", "8:12", "--run", "9 ft", "--plan-run", "9 ft"), ["--plan-run"]),
        (("hip", "--slopes", "0:12"), ["reckon hip"]),
        (("slope", "8"), ["SLOPE"]),
        (("fastening",), ["--length", "--passes"]),
        (("fastening", "--protrusion", "1 in", "--length", "2 in"), ["--deck", "--length"]),
        ((*STACK, "1 in", "--deck-from", "1 in"), ["--deck-to"]),
        ((*STACK, "1 in", "--deck-from", "1 in", "--deck-to", "1/2 in"), ["--deck-from"]),
        ((*STACK, "1 in", "--deck", "1 in", "--deck-from", "1 in", "--deck-to", "1 in"),
         ["--deck"]),
        ((*STACK, "0 in"), ["reckon fastening"]),
        (("ventilation", "--ridge", "30 ft"), ["--area", "--divisor", "--ridge"]),
        (("ventilation", "--area", "300 ft2", "--divisor", "0"), ["reckon ventilation"]),
        (("movement",), ["--edges", "--expansion", "--gap", "--read-at", "--to"]),
        (("caps", "--starts", "1.5"), ["--exposure", "--lengths", "--starts"]),
        (("caps", "--lengths", "9 ft", "--exposure", "0 in"), ["reckon caps"]),
        (("caps", "--lengths", "9 ft", "--exposure", "7 in", "--bundle", "0"), ["reckon caps"]),
        (("caps", "--bundle", "x", "--delivered", "-2"),
         ["--bundle", "--delivered", "--exposure", "--lengths"]),
        (("movement", "--gap", "3 in", "--edges", "9 in", "--expansion", "121 um/m/degC",
          "81 um/m/degC", "--read-at", "0 degC", "--to", "9 degC"), ["--expansion"]),
        (("tape",), ["--length"]),
        (("sample",), ["--confidence", "--reliability"]),
        (("sample", "--confidence", "100 %", "--reliability", "9 %"), ["reckon sample"]),
        (("sample", "--confidence", "95 %", "--reliability", "9 %", "--lot", "999999999999"),
         ["reckon sample"]),
    ],
    ids=lambda c: " ".join(c)[:60],
)  # fmt: skip
def test_mistakes_are_told_all_at_once(arguments, told, shell) -> None:
    """Every mistake is one line on stderr with its flag and what was found; the status is 2."""
    status, out, err = shell(*arguments)
    assert (status, out) == (2, "")
    lines = err.splitlines()
    assert [line.partition(":")[0] for line in lines] == told
    assert all("found" in line for line in lines)
    assert "Traceback" not in err


def test_what_typer_refuses_is_status_2(shell) -> None:
    """An unknown kind, flag or command ends with status 2 and says how it is used."""
    for arguments in (("angle", "--kind", "eave"), ("hip", "--pitch", "8:12"), ("roof",), ()):
        status, out, err = shell(*arguments)
        assert status == 2
        assert "Usage: ridgerule reckon" in out + err


def test_nothing_typed_can_act_on_the_terminal(shell) -> None:
    """An escape in a value comes back spelt out."""
    _, _, err = shell("slope", "\x1b[31m8:12")
    assert "\x1b" not in err
    assert "SLOPE: expected" in err


@pytest.mark.parametrize(
    ("faces", "angle"), [(("0", "180"), "90 deg"), (("90", "90"), "180 deg"), (("0", "1"), "≈ 179")]
)
def test_planes_that_face_one_way_or_opposite_ways_have_an_angle(faces, angle, shell) -> None:
    """Opposite ways at 12:12 it is a ridge's 90 deg, the same way it is flat; both are drawn."""
    status, out, _ = shell("angle", "--kind", "hip", "--slopes", "12:12", "--faces", *faces)
    assert status == 0
    assert _results(out)["angle inside the roof"].startswith(angle)
    assert "_" in out.partition("WORKING")[0]


# drawings


def test_a_square_ridge_is_drawn_square() -> None:
    """At 45 deg each side falls one row for two cells across; equal sides mirror each other."""
    drawn = section(45, 45, valley=False, label="90 deg")
    assert drawn[:2] == (f"{'':14}_/\\_", f"{'':12}_/    \\_")
    for row in drawn[:-2]:
        left, right = row.ljust(32)[:16], row.ljust(32)[16:]
        assert left == right[::-1].translate(str.maketrans("\\/", "/\\"))
    assert drawn[-1].strip() == "90 deg"


@pytest.mark.parametrize("valley", [False, True])
@given(a=st.integers(0, 89), b=st.integers(0, 89))
def test_any_section_can_be_drawn(valley, a, b) -> None:
    """No angle leaves the sheet: at most 32 cells across and a dozen rows down."""
    drawn = section(a, b, valley=valley, label="x")
    assert all(len(row) <= 32 for row in drawn)
    assert len(drawn) <= 40
    assert slope_section(Fraction(a, 12), label="x")[-1] == "x"

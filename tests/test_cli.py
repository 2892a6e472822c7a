"""The command: exit statuses, what goes to which stream, and files written whole or not at all."""

from __future__ import annotations

import csv
import io
import json
import os
import shutil
import subprocess
import sys
from pathlib import Path
from xml.etree import ElementTree as ET

import pytest

from ridgerule import __version__
from ridgerule.cli import inputs, main, outputs
from ridgerule.cli.app import run

BROKEN = Path(__file__).parent.parent / "fixtures" / "broken"
RECORD = "good-record.yaml"
BOOK = "good-rulebook@1.yaml"
AGAINST = ("--against", BOOK)
COMMAND = (sys.executable, "-c", "from ridgerule.cli import main; main()")

PASSING = """\
record: 1
roof: {id: HL-03, covering: composite slate}
complete: {planes: all, hips: all, ridges: none, valleys: none, eaves: none, rakes: none}
planes:
  S: {slope: 7:12, faces: 180 deg}
  E: {slope: 7:12, faces: 90 deg}
lines:
  H1:
    kind: hip
    between: [S, E]
    stations:
      - {at: 2 ft, gap: 2 7/8 in}
"""


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Return the working directory: a folder with records of each outcome and a rulebook."""
    shutil.copy(BROKEN / RECORD, tmp_path / "open.yaml")
    shutil.copy(BROKEN / BOOK, tmp_path / BOOK)
    shutil.copy(BROKEN / "records" / "no-roof-id.yaml", tmp_path / "unusable.yaml")
    (tmp_path / "passing.yaml").write_text(PASSING, "utf-8")
    (tmp_path / "failing.yaml").write_text(PASSING.replace("2 7/8 in", "2 in"), "utf-8")
    monkeypatch.chdir(tmp_path)
    for name in ("NO_COLOR", "FORCE_COLOR", "RIDGERULE_TRACE"):
        monkeypatch.delenv(name, raising=False)
    return tmp_path


@pytest.mark.parametrize(
    ("records", "status"),
    [
        (["passing.yaml"], 0),
        (["failing.yaml"], 1),
        (["open.yaml"], 4),
        (["unusable.yaml"], 2),
        (["passing.yaml", "passing.yaml"], 0),
        (["passing.yaml", "open.yaml"], 4),
        (["open.yaml", "failing.yaml", "passing.yaml"], 1),
        (["failing.yaml", "unusable.yaml"], 2),
        (["not-there.yaml"], 2),
    ],
    ids=str,
)
@pytest.mark.usefixtures("folder")
def test_the_status_is_that_of_the_gravest_outcome(records: list[str], status: int) -> None:
    """The exit status says pass, fail, not verified or unusable, the gravest of the roofs'."""
    assert run(["audit", *records, *AGAINST]) == status


@pytest.mark.parametrize(
    "arguments",
    [
        [],
        ["audit"],
        ["audit", "passing.yaml", "--form"],
        ["audit", "passing.yaml", "--format", "docx"],
        ["audit", "passing.yaml", "--units", "cubits"],
        ["audits"],
        ["--nonsense"],
    ],
    ids=" ".join,
)
@pytest.mark.usefixtures("folder")
def test_bad_usage_is_status_2(arguments: list[str], capfd: pytest.CaptureFixture[str]) -> None:
    """What the command can't understand ends with status 2 and says how it is used."""
    assert run(arguments) == 2
    told = capfd.readouterr()
    assert "Usage: ridgerule" in told.out + told.err
    assert "Traceback" not in told.err


@pytest.mark.usefixtures("folder")
def test_the_version_is_said(capfd: pytest.CaptureFixture[str]) -> None:
    """`--version` prints name and version, and nothing else."""
    assert run(["--version"]) == 0
    assert capfd.readouterr() == (f"ridgerule {__version__}\n", "")


@pytest.mark.parametrize("named", [["--help"], ["audit", "-h"], ["demo", "--help"]])
def test_help_is_given(named: list[str], capfd: pytest.CaptureFixture[str]) -> None:
    """Every command explains itself on standard output and ends with status 0."""
    assert run(named) == 0
    told = capfd.readouterr()
    assert "Usage: ridgerule" in told.out
    assert not told.err


@pytest.mark.usefixtures("folder")
def test_reports_and_problems_go_to_streams_of_their_own(
    capfd: pytest.CaptureFixture[str],
) -> None:
    """The report of the roof that could be read is printed; the other's problems are not in it."""
    assert run(["audit", "unusable.yaml", "passing.yaml", *AGAINST]) == 2
    told = capfd.readouterr()
    assert told.err == "unusable.yaml:3:3: expected the key `id`; found `roof` without it\n"
    assert "HL-03" in told.out
    assert "expected the key" not in told.out


@pytest.mark.usefixtures("folder")
def test_nothing_is_printed_where_no_record_can_be_read(
    capfd: pytest.CaptureFixture[str],
) -> None:
    """A report of nothing is none: standard output stays empty."""
    assert run(["audit", "unusable.yaml", "--format", "json", *AGAINST]) == 2
    assert not capfd.readouterr().out


@pytest.mark.usefixtures("folder")
def test_problems_are_told_once_and_each_file_of_its_own(
    capfd: pytest.CaptureFixture[str],
) -> None:
    """Problems that two records share, in a rulebook of both, are told once."""
    Path("bad.yaml").write_text("rulebook: bad\ntitle: bad\n", "utf-8")
    Path("worse.yaml").write_text("rulebook: worse\nedition: 1\n", "utf-8")
    named = ["--against", "bad.yaml", "--against", "worse.yaml"]
    assert run(["audit", "passing.yaml", "open.yaml", *named]) == 2
    assert capfd.readouterr().err.splitlines() == [
        "bad.yaml:1:1: expected the key `edition`; found a file without it",
        "worse.yaml:1:1: expected the key `title`; found a file without it",
    ]


@pytest.mark.parametrize(
    "reference", [BOOK, f"./{BOOK}", "good-rulebook", "good-rulebook@1"], ids=str
)
@pytest.mark.usefixtures("folder")
def test_rulebooks_are_named_by_id_edition_or_file(
    reference: str, capfd: pytest.CaptureFixture[str]
) -> None:
    """`--against` takes a file or an id, with or without its edition, and finds the same one."""
    assert run(["audit", "passing.yaml", "--against", reference, "--format", "json"]) == 0
    (book,) = json.loads(capfd.readouterr().out)["rulebooks"]
    assert (book["id"], book["edition"]) == ("good-rulebook", "1")


def test_rulebooks_are_found_in_a_named_folder(folder: Path) -> None:
    """`--rulebooks` adds a folder to those that rulebooks are looked for in."""
    (folder / "books").mkdir()
    (folder / BOOK).rename(folder / "books" / BOOK)
    asked = ["audit", "passing.yaml", "--against", "good-rulebook@1"]
    assert run(asked) == 2
    assert run([*asked, "--rulebooks", "books"]) == 0


def test_a_file_named_goes_before_one_of_the_same_name_beside_the_record(folder: Path) -> None:
    """The rulebook in the file that was named is used, not another of its id and edition."""
    (folder / "strict").mkdir()
    strict = (folder / BOOK).read_text("utf-8").replace("at_least: 2 1/2 in", "at_least: 3 in")
    (folder / "strict" / BOOK).write_text(strict, "utf-8")
    assert run(["audit", "passing.yaml", "--against", f"strict/{BOOK}"]) == 1
    assert run(["audit", "passing.yaml", "--against", BOOK]) == 0


@pytest.mark.usefixtures("folder")
def test_a_rulebook_that_is_not_there_is_told_of(capfd: pytest.CaptureFixture[str]) -> None:
    """An id or a file that can't be found is a problem with advice."""
    assert run(["audit", "passing.yaml", "--against", "god-rulebook@1"]) == 2
    assert run(["audit", "passing.yaml", "--against", "gone.yaml"]) == 2
    by_id, by_file = capfd.readouterr().err.splitlines()
    assert by_id == (
        "--against: expected a rulebook that can be found; found `god-rulebook@1`; "
        "did you mean `good-rulebook@1`?"
    )
    assert by_file == (
        "gone.yaml: expected a file that can be read; found nothing at this path; "
        "check the spelling and the folder"
    )


@pytest.mark.usefixtures("folder")
def test_every_format_can_be_read(capfdbinary: pytest.CaptureFixture[bytes]) -> None:
    """The data formats are what their names say, and UTF-8."""
    asked = ["audit", "failing.yaml", *AGAINST, "--format"]
    told = {}
    for form in ("text", "json", "csv", "junit"):
        assert run([*asked, form]) == 1
        told[form] = capfdbinary.readouterr().out.decode("utf-8")
    assert json.loads(told["json"])["outcome"] == "fail"
    assert "HL-03" in {row["roof"] for row in csv.DictReader(io.StringIO(told["csv"]))}
    assert ET.fromstring(told["junit"]).attrib["failures"] == "1"  # noqa: S314 - of our own making
    assert "HL-03" in told["text"]


@pytest.mark.usefixtures("folder")
def test_several_records_make_one_report(capfd: pytest.CaptureFixture[str]) -> None:
    """Every roof is in the report, in the order in which its record was named."""
    for form in ("text", "json", "csv", "junit"):
        assert run(["audit", "failing.yaml", "open.yaml", *AGAINST, "--format", form]) == 1
        told = capfd.readouterr().out
        assert 0 <= told.find("HL-03") < told.find("HL-01"), form


@pytest.mark.usefixtures("folder")
def test_the_same_files_give_the_same_bytes(folder: Path) -> None:
    """A report written twice is the same to the last byte, whatever the form."""
    for form in ("text", "json", "csv", "junit"):
        for name in ("one", "two"):
            run(["audit", "failing.yaml", *AGAINST, "--format", form, "--output", name])
        assert (folder / "one").read_bytes() == (folder / "two").read_bytes()


def test_a_report_is_written_to_a_file(folder: Path, capfd: pytest.CaptureFixture[str]) -> None:
    """`--output` replaces the old file, prints nothing and leaves nothing else behind."""
    output = folder / "report.json"
    output.write_text("old", "utf-8")
    output.chmod(0o640)
    before = {file.name for file in folder.iterdir()}
    asked = ["audit", "passing.yaml", *AGAINST, "--format", "json", "--output", "report.json"]
    assert run(asked) == 0
    assert capfd.readouterr() == ("", "")
    assert json.loads(output.read_text("utf-8"))["outcome"] == "pass"
    assert {file.name for file in folder.iterdir()} == before
    if os.name == "posix":
        assert output.stat().st_mode & 0o777 == 0o640


def _main(monkeypatch: pytest.MonkeyPatch, *arguments: str) -> int:
    """Run the console script in this process; return its exit status."""
    monkeypatch.setattr(sys, "argv", ["ridgerule", *arguments])
    with pytest.raises(SystemExit) as left:
        main()
    assert isinstance(left.value.code, int)
    return left.value.code


@pytest.mark.parametrize("fault", [OSError(28, "No space left on device"), RuntimeError("ours")])
def test_the_old_file_stays_where_the_new_one_fails(
    folder: Path, monkeypatch: pytest.MonkeyPatch, fault: Exception
) -> None:
    """A fault while writing leaves the old report as it was and no half of a new one."""
    output = folder / "report.txt"
    output.write_text("old", "utf-8")
    before = {file.name for file in folder.iterdir()}

    def fail(*_: object) -> None:
        raise fault

    monkeypatch.setattr(outputs, "_same_mode", fail)
    status = _main(monkeypatch, "audit", "passing.yaml", *AGAINST, "--output", "report.txt")
    assert status == (2 if isinstance(fault, OSError) else 3)
    assert output.read_text("utf-8") == "old"
    assert {file.name for file in folder.iterdir()} == before


def test_a_link_stays_a_link(folder: Path) -> None:
    """A report written through a link replaces the file it leads to."""
    (folder / "kept").mkdir()
    try:
        (folder / "report.txt").symlink_to(folder / "kept" / "report.txt")
    except OSError:
        pytest.skip("links can't be made here")
    assert run(["audit", "passing.yaml", *AGAINST, "--output", "report.txt"]) == 0
    assert (folder / "report.txt").is_symlink()
    assert "HL-03" in (folder / "kept" / "report.txt").read_text("utf-8")


@pytest.mark.parametrize(
    ("output", "found"), [("gone/report.txt", "no such folder"), ("kept", "a folder")]
)
def test_an_output_that_can_not_be_written_is_told_of(
    folder: Path,
    monkeypatch: pytest.MonkeyPatch,
    capfd: pytest.CaptureFixture[str],
    output: str,
    found: str,
) -> None:
    """A place where no file can be is a problem of usage, not a fault of ours."""
    (folder / "kept").mkdir()
    assert _main(monkeypatch, "audit", "passing.yaml", *AGAINST, "--output", output) == 2
    advice = "choose another place with `--output`"
    assert capfd.readouterr().err == (
        f"{output}: expected a file that can be written; found {found}; {advice}\n"
    )


@pytest.mark.skipif(
    os.name != "posix" or os.geteuid() == 0, reason="whoever runs this may write anywhere"
)
def test_a_folder_that_may_not_be_written_to_is_told_of(
    folder: Path, monkeypatch: pytest.MonkeyPatch, capfd: pytest.CaptureFixture[str]
) -> None:
    """In a read-only folder the old report stays and the problem is told."""
    kept = folder / "kept"
    kept.mkdir()
    (kept / "report.txt").write_text("old", "utf-8")
    kept.chmod(0o500)
    try:
        status = _main(monkeypatch, "audit", "passing.yaml", *AGAINST, "-o", "kept/report.txt")
    finally:
        kept.chmod(0o700)
    assert status == 2
    assert "found a place you may not write to" in capfd.readouterr().err
    assert (kept / "report.txt").read_text("utf-8") == "old"


@pytest.mark.parametrize("trace", [False, True], ids=["plain", "traced"])
@pytest.mark.usefixtures("folder")
def test_a_fault_of_ours_is_told_as_ours(
    monkeypatch: pytest.MonkeyPatch, capfd: pytest.CaptureFixture[str], *, trace: bool
) -> None:
    """An exception nobody foresaw ends with status 3; the trace is shown where asked for."""

    def fail(*_: object) -> None:
        raise ZeroDivisionError("made to fail")

    monkeypatch.setattr(inputs, "evaluate", fail)
    if trace:
        monkeypatch.setenv("RIDGERULE_TRACE", "1")
    assert _main(monkeypatch, "audit", "passing.yaml", *AGAINST) == 3
    told = capfd.readouterr()
    assert not told.out
    first, *rest = told.err.splitlines()
    assert first == "ridgerule has a fault of its own: ZeroDivisionError: made to fail"
    assert ("Traceback" in told.err) is trace
    assert rest


@pytest.mark.usefixtures("folder")
def test_an_interrupt_is_no_verdict(monkeypatch: pytest.MonkeyPatch) -> None:
    """Ctrl-C ends with 130, as shells have it, never with the status of a roof."""

    def interrupt(*_: object) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr(inputs, "evaluate", interrupt)
    assert _main(monkeypatch, "audit", "passing.yaml", *AGAINST) == 130


def test_the_demo_ends_well(capfd: pytest.CaptureFixture[str]) -> None:
    """The demo roof is audited anywhere, with status 0, and says which status it stands for."""
    assert run(["demo"]) == 0
    told = capfd.readouterr()
    assert told.out
    assert "An invented roof" in told.err
    assert "status 1" in told.err


# The rest runs the command as a process of its own, as a shell would.


def _process(
    *arguments: str, folder: Path, **environment: str
) -> subprocess.CompletedProcess[bytes]:
    return subprocess.run(
        [*COMMAND, *arguments],
        cwd=folder,
        env={**os.environ, **environment},
        capture_output=True,
        timeout=60,
        check=False,
    )


def test_a_process_ends_with_the_status(folder: Path) -> None:
    """What a shell sees is the status, the report and the problems."""
    process = _process("audit", "open.yaml", *AGAINST, folder=folder)
    assert (process.returncode, process.stderr) == (4, b"")
    assert b"HL-01" in process.stdout
    process = _process("audit", "unusable.yaml", *AGAINST, folder=folder)
    assert (process.returncode, process.stdout) == (2, b"")
    assert process.stderr.startswith(b"unusable.yaml:3:3: expected ")


@pytest.mark.parametrize("arguments", [("audit", "failing.yaml", *AGAINST), ("audit", "--help")])
@pytest.mark.skipif(os.name != "posix", reason="pipes end otherwise elsewhere")
def test_a_reader_that_went_away_gets_no_traceback(
    folder: Path, arguments: tuple[str, ...]
) -> None:
    """With nobody left to read, the command ends quietly, and with no status of a roof."""
    reading, writing = os.pipe()
    os.close(reading)
    try:
        process = subprocess.run(
            [*COMMAND, *arguments],
            cwd=folder,
            stdout=writing,
            stderr=subprocess.PIPE,
            timeout=60,
            check=False,
        )
    finally:
        os.close(writing)
    assert process.stderr == b""
    assert process.returncode == 3


@pytest.mark.skipif(shutil.which("sh") is None, reason="there is no shell")
def test_the_head_of_a_report_can_be_taken(folder: Path) -> None:
    """`| head -1` gives the first line, the verdict, and no complaint."""
    command = f'"$0" -c "$1" audit failing.yaml --against {BOOK} | head -1'
    process = subprocess.run(
        ["sh", "-c", command, COMMAND[0], COMMAND[2]],
        cwd=folder,
        capture_output=True,
        timeout=60,
        check=False,
    )
    assert process.stderr == b""
    (line,) = process.stdout.decode("utf-8").splitlines()
    assert "FAIL" in line
    assert "HL-03" in line


@pytest.mark.parametrize(
    ("environment", "coloured"),
    [({}, True), ({"NO_COLOR": "1"}, False), ({"TERM": "dumb"}, False)],
    ids=["plain", "NO_COLOR", "dumb"],
)
def test_colour_is_for_terminals_that_want_it(
    folder: Path, environment: dict[str, str], *, coloured: bool
) -> None:
    """A terminal gets colour, unless it or its owner asks for none."""
    pty = pytest.importorskip("pty", reason="there are no terminals here")
    leader, follower = pty.openpty()
    clean = {k: v for k, v in os.environ.items() if k not in {"NO_COLOR", "FORCE_COLOR"}}
    with subprocess.Popen(
        [*COMMAND, "audit", "failing.yaml", *AGAINST],
        cwd=folder,
        env={**clean, "TERM": "xterm", **environment},
        stdout=follower,
        stderr=subprocess.PIPE,
    ) as process:
        os.close(follower)
        shown = b""
        try:
            while piece := os.read(leader, 65536):
                shown += piece
        except OSError:
            pass  # how Linux says that the other side has closed
        finally:
            os.close(leader)
        assert process.wait(timeout=60) == 1
    assert b"HL-03" in shown
    assert (b"\x1b[" in shown) is coloured


def test_a_report_to_a_pipe_has_no_colour(folder: Path) -> None:
    """What is no terminal gets no escape codes."""
    process = _process("audit", "failing.yaml", *AGAINST, folder=folder, TERM="xterm")
    assert b"HL-03" in process.stdout
    assert b"\x1b[" not in process.stdout


def test_a_terminal_that_knows_only_ascii_gets_a_report(folder: Path) -> None:
    """Where the encoding can't show a sign, the report comes without it and without a fault."""
    process = _process("audit", "failing.yaml", *AGAINST, folder=folder, PYTHONIOENCODING="ascii")
    assert (process.returncode, process.stderr) == (1, b"")
    assert process.stdout.isascii()
    assert b"HL-03" in process.stdout

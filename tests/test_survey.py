"""`ridgerule survey`: lines in, lines out, in order, in bounded memory, whatever a line holds."""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest

import archive
from ridgerule.cli.app import run

if TYPE_CHECKING:
    from collections.abc import Sequence

COUNT = 120
AGAINST = ("--against", "demo/tarn-county@2026-04", "--against", "code/model-residential@2021")


@pytest.fixture(scope="module")
def roofs(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return a file of records of which some fail and some are open."""
    path = tmp_path_factory.mktemp("survey") / "roofs.jsonl"
    path.write_bytes(b"".join(archive.lines(COUNT)))
    return path


def _survey(arguments: Sequence[str], output: Path) -> tuple[int, list[dict[str, Any]]]:
    status = run(["survey", *arguments, "--output", str(output)])
    return status, [json.loads(line) for line in output.read_bytes().splitlines()]


def test_results_stand_in_the_order_of_the_records(roofs: Path, tmp_path: Path) -> None:
    """Each record's line says which it is, its roof and the outcome that was planted in it."""
    status, told = _survey([str(roofs), *AGAINST], tmp_path / "out.jsonl")
    assert status == 1
    assert [one["record"] for one in told] == [f"{roofs}:{n}" for n in range(1, COUNT + 1)]
    assert [one["roof"] for one in told] == [f"AR-{n:06}" for n in range(COUNT)]
    assert [one["outcome"] for one in told] == [archive.outcome_of(n) for n in range(COUNT)]
    assert {one["outcome"] for one in told} == {"pass", "fail", "not verified"}
    for one in told:
        kept = one["counts"]["fail"] + one["counts"]["not verified"]
        assert len(one["findings"]) == kept
        assert sum(one["counts"].values()) > 420
        assert {book["rulebook"] for book in one["by_rulebook"]} == set(AGAINST[1::2])


def test_all_keeps_every_finding(roofs: Path, tmp_path: Path) -> None:
    """With --all the findings are as many as the counts say, and the outcomes are the same."""
    few = tmp_path / "few.jsonl"
    few.write_bytes(b"".join(roofs.read_bytes().splitlines(keepends=True)[:3]))
    _, told = _survey([str(few), "--all"], tmp_path / "all.jsonl")
    _, short = _survey([str(few)], tmp_path / "short.jsonl")
    assert [one["counts"] for one in told] == [one["counts"] for one in short]
    assert all(len(one["findings"]) == sum(one["counts"].values()) for one in told)


def test_two_jobs_give_the_same_bytes(
    roofs: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """However many processes share the blocks out, the bytes are those of one."""
    monkeypatch.setattr("ridgerule.survey.blocks.BLOCK", 100_000)
    one, two = tmp_path / "one.jsonl", tmp_path / "two.jsonl"
    assert run(["survey", str(roofs), *AGAINST, "--output", str(one)]) == 1
    assert run(["survey", str(roofs), *AGAINST, "--jobs", "2", "--output", str(two)]) == 1
    assert one.read_bytes() == two.read_bytes()
    assert one.read_bytes().count(b"\n") == COUNT


def test_records_that_cannot_be_used_stop_nothing(tmp_path: Path) -> None:
    """A broken line has its problems with line and column; those around it have their results."""
    good = next(archive.lines(1))
    bad = [b"{\n", b"[1]\n", good.replace(b"7:12", b"7;12"), b"\xff\xfe\n", b'{"rulebook":"x"}\n']
    path = tmp_path / "mixed.jsonl"
    path.write_bytes(good + b"\n  \n" + b"".join(bad) + good.rstrip(b"\n"))
    status, told = _survey([str(path), *AGAINST], tmp_path / "out.jsonl")
    assert status == 2
    assert [one["record"].rpartition(":")[2] for one in told] == ["1", "4", "5", "6", "7", "8", "9"]
    assert ["problems" in one for one in told] == [False, *[True] * 5, False]
    wrong = told[3]["problems"]
    assert {problem["found"] for problem in wrong} == {"`7;12`, whose unit `;12` is not known"}
    assert all(problem["column"] > 1 for problem in wrong)


def test_records_name_their_own_rulebooks(tmp_path: Path) -> None:
    """Without --against each record is held against its own list, and one without a list told."""
    data = archive.record(1)
    other = {**data, "rulebooks": ["practice/hip-and-ridge@2026-11"]}
    none = {key: value for key, value in data.items() if key != "rulebooks"}
    unknown = {**data, "rulebooks": ["nobody/wrote-this@1"]}
    path = tmp_path / "own.jsonl"
    path.write_text("\n".join(json.dumps(d) for d in (data, other, none, unknown, data)))
    status, told = _survey([str(path)], tmp_path / "out.jsonl")
    assert status == 2
    books = [[b["rulebook"] for b in one.get("by_rulebook", ())] for one in told]
    assert books[0] == books[4] == data["rulebooks"]
    assert books[1] == (["practice/hip-and-ridge@2026-11"] if "problems" not in told[1] else [])
    assert "at least one rulebook" in json.dumps(told[2]["problems"])
    assert "nobody/wrote-this" in json.dumps(told[3]["problems"])


def test_an_empty_file_has_no_results(tmp_path: Path) -> None:
    """Nothing to survey is no pass: no line comes out, and the status says not verified."""
    path = tmp_path / "empty.jsonl"
    path.write_bytes(b"\n\n")
    assert _survey([str(path), *AGAINST], tmp_path / "out.jsonl") == (4, [])


def test_files_and_rulebooks_that_cannot_be_read_are_told_first(
    roofs: Path, tmp_path: Path
) -> None:
    """A file that is not there, a folder and an unknown rulebook end with status 2, no output."""
    command = [str(Path(sys.executable).with_name("ridgerule")), "survey"]
    output = tmp_path / "out.jsonl"
    for given in ([str(tmp_path / "no.jsonl")], [str(tmp_path)], [str(roofs), "--against", "a/b"]):
        done = subprocess.run(
            [*command, *given, "--output", str(output)], capture_output=True, text=True, check=False
        )
        assert done.returncode == 2
        assert "expected" in done.stderr
        assert "Traceback" not in done.stderr
        assert not output.exists()


@pytest.mark.skipif(not Path("/proc/self/status").exists(), reason="reads the kernel's own count")
def test_memory_does_not_grow_with_the_number_of_records(tmp_path: Path) -> None:
    """Four times the lines, 54 MB of them, take no more than a tenth of them in memory."""
    script = (
        "import sys\nfrom pathlib import Path\nfrom ridgerule.cli.app import run\n"
        "run(['survey', sys.argv[1], '--output', sys.argv[2]])\n"
        "print(Path('/proc/self/status').read_text().split('VmHWM:')[1].split()[0])\n"
    )
    used = []
    lines = list(archive.lines(60))
    for times in (20, 80):
        path = tmp_path / f"{times}.jsonl"
        path.write_bytes(b"".join(lines * times))
        out = str(tmp_path / "out.jsonl")
        done = subprocess.run(
            [sys.executable, "-c", script, str(path), out], capture_output=True, check=True
        )
        used.append(int(done.stdout))
    written = path.stat().st_size / 1024
    assert written > 50_000
    assert used[1] - used[0] < written / 10

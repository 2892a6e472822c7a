"""A rulebook for a trade detail that none of those shipped covers, written as the tutorial teaches.

Its figures are marked in it: common practice, no source, and this rulebook's own choice. What is
expected of its roof was worked out by hand from the record and the rules.
"""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest

from ridgerule.audit.findings import Outcome
from ridgerule.cli.app import run
from ridgerule.cli.inputs import Asked, Auditor
from ridgerule.documents import load_document

FOLDER = Path(__file__).parent.parent / "fixtures" / "step-flashing"
BOOK = FOLDER / "step-flashing@2026-11.yaml"
ROOF = FOLDER / "gable-end.yaml"
P, F, NV, NA = Outcome.PASS, Outcome.FAIL, Outcome.NOT_VERIFIED, Outcome.NOT_APPLICABLE

EXPECTED = {
    # rule: gable end S, gable end N, long wall
    "step-flashed": (P, P, NA),
    "piece-for-each-course": (P, F, NA),  # 14 of 14; 13 of 14
    "piece-lap": (F, NV, NA),  # 9 3/4 - 8 = 1 3/4 in; the exposure of N is not recorded
    "leg-on-roof": (P, NV, NA),  # 4 in, on the limit; a word about what is hidden
    "leg-on-wall": (P, NV, F),  # 4 1/2 in; can't reach; 3 1/2 in
    "fastened-to-one": (P, F, NA),
    "top-covered": (P, P, P),
    "cladding-clear": (F, P, NA),  # 3/4 in; 1 in, on the limit; brick
    "diverter-at-foot": (P, NV, NA),  # whether the wall goes on past the eave is not recorded
    "apron-length": (NA, NA, P),  # 4 in is due on 9:12, which is steeper than 8:12
}


def _found(record: Path) -> dict[tuple[str, str], Outcome]:
    audit = Auditor(Asked()).audit(record)
    return {(f.rule.id if f.rule else "", f.place.label): f.outcome for f in audit.findings}


def test_every_wall_comes_out_as_worked_out_by_hand() -> None:
    """Ten rules at three walls, each outcome among them, and no finding beside these."""
    walls = ("wall G1", "wall G2", "wall H1")
    by_hand = {
        (rule, wall): outcome
        for rule, outcomes in EXPECTED.items()
        for wall, outcome in zip(walls, outcomes, strict=True)
    }
    assert len(by_hand) == 30
    assert set(by_hand.values()) == set(Outcome)
    assert _found(ROOF) == by_hand


@pytest.mark.parametrize(
    ("written", "instead", "rule", "wall", "outcome"),
    [
        ("piece_length: {value: 9 3/4 in,", "piece_length: {value: 10 in,", "piece-lap", "G1", P),
        ("N: {slope: 7:12,", "N: {exposure: 8 in, slope: 7:12,", "piece-lap", "G2", P),
        ("N: {slope: 7:12,", "N: {exposure: 8 1/16 in, slope: 7:12,", "piece-lap", "G2", F),
        ("W: {slope: 9:12,", "W: {slope: 8:12,", "apron-length", "H1", F),
        ("W: {slope: 9:12,", "W: {slope: unknown,", "apron-length", "H1", NV),
        ("diverter: no", "diverter: no\n    runs_past_eave: yes", "diverter-at-foot", "G2", F),
        ("diverter: no", "diverter: no\n    runs_past_eave: no", "diverter-at-foot", "G2", NA),
        ("covering: natural slate", "covering: metal panel", "step-flashed", "roof", NA),
    ],
)
def test_one_reading_changed_changes_what_rests_on_it(
    tmp_path: Path, written: str, instead: str, rule: str, wall: str, outcome: Outcome
) -> None:
    """Computed facts follow the plane below the wall, and a covering out of scope ends it."""
    shutil.copy(BOOK, tmp_path)
    text = ROOF.read_text(encoding="utf-8")
    assert text.count(written) == 1
    changed = tmp_path / ROOF.name
    changed.write_text(text.replace(written, instead), encoding="utf-8")
    found = _found(changed)
    places = {place for of, place in found if of == rule}
    (place,) = (each for each in places if each.endswith(wall))
    assert found[rule, place] is outcome


def test_nothing_is_wrong_in_it(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """`book check` finds no error and no warning."""
    monkeypatch.chdir(FOLDER)
    assert run(["book", "check", "--strict", "--on", "2026-11-20", BOOK.name]) == 0
    assert "1 file: no errors, no warnings" in capsys.readouterr().out


def test_its_cases_prove_it(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """`book prove --thorough` finds every side shown and every small change noticed."""
    monkeypatch.chdir(FOLDER)
    assert run(["book", "prove", "--thorough", BOOK.name]) == 0
    out = capsys.readouterr().out
    assert "all noticed" in out
    assert "UNPROVED" not in out


def test_every_source_says_that_it_has_none() -> None:
    """No figure of it can be taken for a code's or a maker's."""
    data = load_document(BOOK).data
    assert isinstance(data, dict)
    assert len(data["sources"]) == 5
    for source in data["sources"].values():
        assert source["basis"] == "common practice"
        assert source["note"].startswith("no source")

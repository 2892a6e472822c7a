"""The rulebooks that ship, and the one written by the tutorial, prove themselves thoroughly."""

from __future__ import annotations

from pathlib import Path

import pytest

from ridgerule.cli.app import run
from ridgerule.shipped import shipped

FIXTURES = Path(__file__).parents[1] / "fixtures"
FILES = [*sorted(shipped("rulebooks").rglob("*@*.yaml")),
         FIXTURES / "step-flashing" / "step-flashing@2026-11.yaml"]  # fmt: skip


def test_all_are_here() -> None:
    """Five rulebooks ship; a sixth is the tutorial's."""
    assert len(FILES) == 6


@pytest.mark.parametrize("file", FILES, ids=lambda file: file.stem)
def test_no_side_is_unproved_and_no_change_unnoticed(
    file: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Every case comes out as expected, every side is shown, every small change is noticed."""
    assert run(["book", "prove", str(file), "--thorough"]) == 0
    out = capsys.readouterr().out
    assert " proved\n" in " ".join(out.split("─")[0].split()) + "\n"
    assert "all as expected" in out

"""README keeps its word: its example is a record, its commands run, its first words are the job."""

from __future__ import annotations

import re
from pathlib import Path

from ridgerule.audit.findings import Outcome
from ridgerule.cli.app import run
from ridgerule.cli.inputs import Asked, Auditor

README = Path(__file__).parent.parent / "README.md"


def _blocks(language: str) -> list[str]:
    text = README.read_text(encoding="utf-8")
    return re.findall(rf"```{language}\n(.*?)```", text, flags=re.DOTALL)


def test_readme_opens_with_the_job_in_one_paragraph() -> None:
    """The first paragraph says what is held against what, and what comes out."""
    first = README.read_text(encoding="utf-8").split("\n\n")[1]
    for word in ("finished steep-slope roof", "local code", "warranty", "verdict", "source"):
        assert word in " ".join(first.split())


def test_readmes_record_can_be_audited(tmp_path: Path) -> None:
    """The record in README is one: its short gap fails, and what it leaves out is open."""
    (block,) = _blocks("yaml")
    file = tmp_path / "roof.yaml"
    file.write_text(block, encoding="utf-8")
    audit = Auditor(Asked()).audit(file)
    failed = {(f.rule.id if f.rule else "", f.place.label) for f in audit.findings
              if f.outcome is Outcome.FAIL}  # fmt: skip
    assert ("field-gap", "hip H1 at 9 ft") in failed
    assert audit.counts[Outcome.NOT_VERIFIED] > 0


def test_readmes_commands_are_commands(capsys) -> None:
    """Every `ridgerule` command that README shows is one, with options that exist."""
    lines = [line for block in _blocks("sh") for line in block.splitlines()]
    shown = [line.split("#")[0].split() for line in lines if line.startswith("ridgerule ")]
    assert len(shown) == 10
    for words in shown:
        command = [word for word in words[1:3] if not word.startswith(("-", "roof"))]
        assert run([*command, "--help"]) == 0
        told = capsys.readouterr().out
        for option in (word for word in words if word.startswith("--")):
            assert option in told


def test_reckon_cap_of_readme_names_a_cap(capsys) -> None:
    """README's shell computation ends well and names the cap that governs."""
    arguments = ["reckon", "cap", "--kind", "hip", "--slopes", "8:12", "10:12", "--corner", "90"]
    assert run(arguments) == 0
    assert "120 deg" in capsys.readouterr().out

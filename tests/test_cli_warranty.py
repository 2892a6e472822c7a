"""`ridgerule warranty` as it is typed: every format, exit statuses, whose coverages are read."""

from __future__ import annotations

import csv
import io
import json
import xml.etree.ElementTree as ET
from pathlib import Path
from typing import TYPE_CHECKING

from ridgerule.cli.app import run
from ridgerule.documents import read_document
from ridgerule.reports.cautions import CAUTIONS, DISCLAIMER
from ridgerule.schemas import check
from test_audit_page import Seen, held

if TYPE_CHECKING:
    import pytest

FIXTURES = Path(__file__).parents[1] / "fixtures"
DEMO = str(FIXTURES / "demo" / "harrow-lane.yaml")
CLEAN = str(FIXTURES / "clean" / "mill-bank.yaml")
TURRET = str(FIXTURES / "turret" / "heron-turret.yaml")

# Written by hand from the demo's record and the maker's rulebook (both invented).
DEMO_STATUSES = {
    "material": ["met", "met", "met", "shown not met", "met"],
    "workmanship-watertight": [
        "met", "met", "met", "met", "not evidenced", "not evidenced", "met",
    ],
    "wind": [
        "met", "shown not met", "not evidenced", "shown not met", "not evidenced",
        "not evidenced", "met", "not evidenced",
    ],
}  # fmt: skip


def test_the_demo_condition_by_condition(capsys: pytest.CaptureFixture[str]) -> None:
    """The demo shows each condition as its record does, by the maker's own rules."""
    assert run(["warranty", DEMO, "--format", "json"]) == 1
    data = json.loads(capsys.readouterr().out)
    found = {c["coverage"]: [a["status"] for a in c["conditions"]] for c in data["coverages"]}
    assert found == DEMO_STATUSES
    assert {c["rulebook"] for c in data["coverages"]} == {"demo/tarnfell-slate@2026-01"}
    assert check(read_document(json.dumps(data).encode(), name="review.json"), "warranty") == ()
    width = data["coverages"][1]["conditions"][6 - 1]
    assert width["rule"] == "practice/hip-and-ridge#membrane-width"
    assert width["title"] == "The membrane strip is at least 9 in wide"  # the county asks 12 in


def test_a_clean_roof_meets_every_condition(capsys: pytest.CaptureFixture[str]) -> None:
    """Where every condition is met the status is 0, and the decision is still the warrantor's."""
    assert run(["warranty", CLEAN]) == 0
    out = " ".join(capsys.readouterr().out.split())
    assert "conditions met: 8; the warrantor decides" in out
    for said in (DISCLAIMER, *CAUTIONS):
        assert said in out


def test_not_evidenced_alone_ends_with_4(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """With nothing shown not met and something not evidenced the status is 4."""
    text = (
        Path(CLEAN).read_text(encoding="utf-8").replace("transferred: no", "transferred: unknown")
    )
    path = tmp_path / "roof.yaml"
    path.write_text(text, encoding="utf-8")
    (tmp_path / "photos").mkdir()
    assert run(["warranty", str(path)]) == 4
    assert "not evidenced: 1" in capsys.readouterr().out


def test_every_format_carries_disclaimer_and_cautions(capsys: pytest.CaptureFixture[str]) -> None:
    """Text, Markdown, HTML, JSON, the table and JUnit all say what the review is."""
    pages = {}
    for form in ("text", "markdown", "html", "json", "csv", "junit"):
        assert run(["warranty", DEMO, "--format", form]) == 1
        pages[form] = capsys.readouterr().out
    seen = Seen(pages["html"])
    held(seen)
    read = {
        "text": " ".join(pages["text"].split()),
        "html": seen.text.replace("\N{NO-BREAK SPACE}", " "),
        "json": json.dumps(json.loads(pages["json"]), ensure_ascii=False),
        "csv": " ".join(" ".join(row) for row in csv.reader(io.StringIO(pages["csv"]))),
        "junit": " ".join(ET.fromstring(pages["junit"]).itertext()),  # noqa: S314 - our own
    }
    for form, text in read.items():
        for said in (DISCLAIMER, *CAUTIONS):
            assert said in text, form
    assert DISCLAIMER.split(".")[0] in pages["markdown"]


def test_the_same_twice(capsys: pytest.CaptureFixture[str]) -> None:
    """The same record gives the same bytes in every format."""
    for form in ("text", "markdown", "html", "json", "csv", "junit"):
        found = []
        for _ in range(2):
            run(["warranty", DEMO, CLEAN, "--format", form])
            found.append(capsys.readouterr().out)
        assert found[0] == found[1]


def test_rulebooks_without_coverages(capsys: pytest.CaptureFixture[str]) -> None:
    """Without a coverage there is nothing to review, which is told with what to do."""
    status = run(["warranty", TURRET, "--against", "practice/hip-and-ridge"])
    assert status == 2
    assert capsys.readouterr().err == (
        "--against: expected a rulebook with `coverages:`, or one that stands on such; found "
        "`practice/hip-and-ridge`; name the warrantor's rulebook\n"
    )


def test_a_bad_record_is_told_and_the_others_are_reviewed(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """One record that can't be read does not keep the others from being reviewed."""
    bad = tmp_path / "bad.yaml"
    bad.write_text("record: 1\nroof: {id: X, covering: thatch}\n", encoding="utf-8")
    assert run(["warranty", str(bad), CLEAN, "--against", "demo/tarnfell-slate"]) == 2
    out, err = capsys.readouterr()
    assert "bad.yaml:2:25: expected one of" in err
    assert "Mill Bank" in out

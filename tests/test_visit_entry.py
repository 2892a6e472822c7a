"""A visit question by question: what is typed, what is asked next, what is written and where."""

from __future__ import annotations

import datetime as dt
import random
from typing import TYPE_CHECKING

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from ridgerule.cli.inputs import Asked, Auditor
from ridgerule.cli.measure_desk import Desk
from ridgerule.documents import read_document
from ridgerule.facts import How
from ridgerule.misreadings import Mistake
from ridgerule.plain_data import CONTROLS
from ridgerule.problems import InputRejected
from ridgerule.quantities import Dimension, Units
from ridgerule.visit.entry import Memory, Move, Prompt, Wanted, move, next_prompt, pending
from ridgerule.visit.entry_file import Changed, Lock, Unsaved, read_text, write_text
from ridgerule.visit.entry_replies import (
    Answer,
    Back,
    Help,
    Instrument,
    Keep,
    KnownBy,
    Listed,
    Note,
    Photo,
    Quit,
    Skip,
    read_all_or_none,
    read_fact,
    read_how,
    read_names,
    read_spot,
)
from ridgerule.visit.entry_units import kind_of, unit_for, unit_in
from ridgerule.visit.entry_verdict import verdict_on
from ridgerule.visit.record_writing import Change, with_changes
from ridgerule.vocabulary import VOCABULARY
from test_cli_measure import OUTLINE

if TYPE_CHECKING:
    from pathlib import Path

FACTS = VOCABULARY.by_name
DAY = dt.date(2026, 9, 14)
# An invented rulebook.
SIDES = """\
rulebook: sides
edition: 1
title: Sides
authority: nobody (invented)
sources:
  us: {basis: invented}
rules:
  - id: setback
    title: Slates stop short of the centreline
    at: station
    of: each station.setback
    limit: {at_least: 1 in}
    class: major
    why: a test needs it
    remedy: cut them back
    source: us
"""
TOOLS = """\
instruments:
  tape: {graduation: 1/16 in}
  caliper: {graduation: 1/64 in}
"""


def _desk(folder: Path, text: str = OUTLINE) -> Desk:
    file = folder / "roof.yaml"
    file.write_text(text)
    return Desk(Auditor(Asked()), file, DAY)


class Sitter:
    """Somebody who types at a desk."""

    def __init__(self, desk: Desk, memory: Memory | None = None) -> None:
        """Sit down before the first question."""
        self.desk = desk
        self.memory = memory or Memory()

    @property
    def prompt(self) -> Prompt:
        """The question that is asked now."""
        found = next_prompt(self.desk.sitting, self.memory)
        assert found is not None
        return found

    def type(self, text: str) -> Move:
        """Type a line; what it changes is written."""
        prompt = self.prompt
        made = move(self.desk.sitting, self.memory, prompt, text)
        self.memory = made.memory
        if made.changes:
            saved = self.desk.save(prompt, text, made)
            assert not saved.refused
            self.memory = saved.memory
        return made

    def upto(self, key: str, *, spot: str = "") -> Prompt:
        """Skip until a key is asked, at a station where one is named."""
        while self.prompt.step.question.key != key or spot not in self.prompt.step.place.label:
            self.type("")
        return self.prompt


@pytest.mark.parametrize(
    ("fact", "typed", "reply"),
    [
        ("station.gap", "3 1/16", Answer(("3 1/16 in",))),
        ("station.gap", "3-1/16", Answer(("3-1/16 in",))),
        ("station.gap", "78mm", Answer(("78mm",))),
        ("station.gap", "  2  ft 4 1/2 in ", Answer(("2 ft 4 1/2 in",))),
        ("station.gap", "3½", Answer(("3½ in",))),
        ("station.gap", "unknown", Answer(("unknown",))),
        ("station.gap", "U", Answer(("unknown",))),
        ("station.gap", "can\N{RIGHT SINGLE QUOTATION MARK}t reach", Answer(("can't reach",))),
        ("station.gap", "cannot  reach", Answer(("can't reach",))),
        ("station.gap", "r", Answer(("can't reach",))),
        ("station.gap", "", Skip()),
        ("station.gap", "  ", Skip()),
        ("station.gap", "<", Back()),
        ("station.gap", "?", Help()),
        ("station.gap", "q", Quit()),
        ("station.gap", "w", Instrument()),
        ("station.gap", "=", Keep()),
        ("station.gap", "n edge wavers", Note("edge wavers")),
        ("station.gap", "p photos/a b.jpg", Photo("photos/a b.jpg")),
        ("line.vented", "y", Answer(("yes",))),
        ("line.vented", "N", Answer(("no",))),
        ("line.vented", "n wavers", Note("wavers")),
        ("plane.fastener", "3", Answer(("screw",))),
        ("plane.fastener", "SCREW", Answer(("screw",))),
        ("plane.fastener", "ri", Answer(("ring-shank nail",))),
        ("roof.climate_zone", "6", Answer(("6",))),
        ("plane.slope", "7", Answer(("7:12",))),
        ("plane.slope", "7/12", Answer(("7/12",))),
        ("plane.slope", "30 deg", Answer(("30 deg",))),
        ("station.fasteners", "2", Answer(("2",))),
        ("roof.permit_date", "2026-03-02", Answer(("2026-03-02",))),
        ("roof.permit_date", "Today", Answer(("2026-09-14",))),
        ("roof.place", "Tarn County", Answer(("Tarn County",))),
        ("roof.place", '"q"', Answer(("q",))),
        ("roof.cap_waste", "5 %", Answer(("5 %",))),
    ],
)
def test_what_is_typed_is_read_as_the_trade_writes_it(fact: str, typed: str, reply: object) -> None:
    """Readings, words, choices, dates and the short words are each what they say."""
    of = FACTS[fact]
    unit = {Dimension.LENGTH: "in", Dimension.SLOPE: ":12"}.get(of.dimension, "")
    assert read_fact(typed, of, unit=unit, today=DAY) == reply


@pytest.mark.parametrize(
    ("fact", "typed", "found"),
    [
        ("station.gap", "3 1/16 inn", "whose unit `inn` is not known"),
        ("station.gap", "12 deg", "an angle"),
        ("station.gap", "yes", "`yes`"),
        ("station.gap", "n", "nothing"),
        ("station.gap", "p", "nothing"),
        ("station.gap", "3\x07", "U+0007"),
        ("station.gap", "x" * 70_000, "a much longer one"),
        ("roof.cap_waste", "5", "`5` without a unit"),
        ("line.vented", "perhaps", "`perhaps`"),
        ("plane.fastener", "9", "`9`"),
        ("plane.fastener", "s", "`s`"),
        ("station.fasteners", "2.5", "which is not whole"),
        ("roof.permit_date", "2026-02-30", "`2026-02-30`"),
    ],
)
def test_what_cannot_be_read_is_said_with_what_was_expected(
    fact: str, typed: str, found: str
) -> None:
    """A slip is told with what was expected, and is no answer."""
    reply = read_fact(typed, FACTS[fact], unit="in" if "gap" in fact else "", today=DAY)
    assert isinstance(reply, Mistake)
    assert found in reply.found
    assert reply.expected


def test_sides_are_read_beside_each_other() -> None:
    """One reading or one for each side may be typed; a thousands comma parts none."""
    setback = FACTS["station.setback"]
    assert read_fact("2, 2 1/4", setback, unit="in", sides=2) == Answer(("2 in", "2 1/4 in"))
    assert read_fact("2; 2 1/4 in", setback, unit="in", sides=2) == Answer(("2 in", "2 1/4 in"))
    assert read_fact("1,000 mm", setback, unit="in", sides=2) == Answer(("1,000 mm",))
    assert read_fact("2", setback, unit="in", sides=2) == Answer(("2 in",))
    assert isinstance(read_fact("1, 2, 3", setback, unit="in", sides=2), Mistake)
    assert isinstance(read_fact("1, x", setback, unit="in", sides=2), Mistake)


def test_other_questions_have_answers_of_their_own() -> None:
    """All or none, names, spots and how it is known are read by name or number."""
    ways = (How.CAP_LIFTED, How.PHOTO_DURING_WORK, How.SEEN, How.STATED)
    assert read_how("2", ways) == KnownBy(How.PHOTO_DURING_WORK)
    assert read_how("cap", ways) == KnownBy(How.CAP_LIFTED)
    assert read_how("stated by the roofer", ways) == KnownBy(How.STATED, "the roofer")
    assert read_how("4 crew 3", ways) == KnownBy(How.STATED, "crew 3")
    assert isinstance(read_how("4", ways), Mistake)
    assert isinstance(read_how("s", ways), Mistake)
    assert read_all_or_none("A") == Answer(("all",))
    assert read_all_or_none("0") == Answer(("none",))
    assert isinstance(read_all_or_none("some"), Mistake)
    assert read_names("S, E", ("S", "E", "N")) == Listed(("S", "E"))
    assert read_names("S and E", ("S", "E")) == Listed(("S", "E"))
    assert read_names("S", ("S", "E")) == Listed(("S",))
    assert isinstance(read_names("S, W", ("S", "E")), Mistake)
    assert read_spot("9", unit="ft", is_length=True) == Answer(("9 ft",))
    assert read_spot("course 6", unit="", is_length=False) == Answer(("course 6",))


@pytest.mark.parametrize(
    ("text", "dimension", "unit"),
    [
        ("3 1/16 in", Dimension.LENGTH, "in"),
        ("78mm", Dimension.LENGTH, "mm"),
        ("2 ft 4 1/2 in", Dimension.LENGTH, "in"),
        ("3' 4\"", Dimension.LENGTH, '"'),
        ("18 ft", Dimension.LENGTH, "ft"),
        ("7:12", Dimension.SLOPE, ":12"),
        ("7 in 12", Dimension.SLOPE, ":12"),
        ("30 deg", Dimension.SLOPE, "deg"),
        ("58 %", Dimension.SLOPE, "%"),
        ("1/150", Dimension.SHARE, ""),
        ("2377 ft2", Dimension.AREA, "ft2"),
        ("18 in2/ft", Dimension.NET_FREE_AREA_PER_LENGTH, "in2/ft"),
        ("80 um/m/degC", Dimension.EXPANSION, "um/m/degC"),
        ("68 °F", Dimension.TEMPERATURE, "°F"),
        ("2", Dimension.COUNT, ""),
    ],
)
def test_the_unit_of_a_reading(text: str, dimension: Dimension, unit: str) -> None:
    """A bare number takes the unit that the last reading of its kind ended with."""
    assert unit_in(text, dimension) == unit


def test_a_bare_number_takes_the_unit_last_used(tmp_path: Path) -> None:
    """Of this visit first, then of the record; the length of a hip lends its feet to no gap."""
    sitter = Sitter(_desk(tmp_path))
    record = sitter.desk.audit.record
    gap, length = kind_of(FACTS["station.gap"]), kind_of(FACTS["line.length"])
    assert unit_for(gap, {}, record, VOCABULARY, Units.METRIC) == "in"
    assert unit_for(length, {}, record, VOCABULARY, Units.METRIC) == "ft"  # of the station's spot
    assert (
        unit_for(kind_of(FACTS["roof.air_temperature"]), {}, record, VOCABULARY, Units.METRIC)
        == "degC"
    )
    assert sitter.upto("gap", spot="7 ft").unit == "in"
    sitter.type("80 mm")
    assert sitter.prompt.unit == "mm"
    sitter.type("79")
    assert "gap: 79 mm" in sitter.desk.path.read_text()


def test_back_goes_back_over_answers_and_skips(tmp_path: Path) -> None:
    """Each `<` goes one question back, skipped ones too; the way on leads to the same place."""
    sitter = Sitter(_desk(tmp_path))
    first = sitter.prompt.step.key()
    assert isinstance(sitter.type("<").told, Mistake)
    sitter.type("none")
    second = sitter.prompt.step.key()
    sitter.type("")
    third = sitter.prompt.step.key()
    assert len({first, second, third}) == 3
    sitter.type("<")
    assert sitter.prompt.step.key() == second
    sitter.type("<")
    assert sitter.prompt.step.key() == first
    sitter.type("all")
    assert "joints: all" in sitter.desk.path.read_text()
    assert sitter.prompt.step.key() == second
    sitter.type("y")
    assert sitter.prompt.step.key() == third


def test_keeping_an_answer_goes_on_to_how_it_is_known(tmp_path: Path) -> None:
    """An answer that is there and not shown is kept by `=`; only how it is known is asked."""
    text = OUTLINE.replace("    kind: hip\n", "    kind: hip\n    membrane_width: 9 in\n")
    sitter = Sitter(_desk(tmp_path, text))
    prompt = sitter.upto("membrane_width")
    assert prompt.step.question.known.startswith("9 in (measured)")
    sitter.type("=")
    assert sitter.prompt.wanted is Wanted.HOW
    made = sitter.type("cap lifted")
    assert isinstance(made.told, KnownBy)
    assert "membrane_width: {value: 9 in, how: cap lifted}" in sitter.desk.path.read_text()
    assert isinstance(sitter.type("=").told, Mistake)


def test_the_instrument_is_chosen_once(tmp_path: Path) -> None:
    """Where a record has several instruments, one is chosen for each usual tool, once."""
    sitter = Sitter(_desk(tmp_path, OUTLINE + TOOLS))
    prompt = sitter.upto("exposure")
    assert (prompt.wanted, prompt.choices) == (Wanted.TOOL, ("tape", "caliper"))
    sitter.type("2")
    assert sitter.prompt.wanted is Wanted.VALUE
    sitter.type("8")
    assert "exposure: {value: 8 in, how: measured, with: caliper}" in sitter.desk.path.read_text()
    assert sitter.upto("cap_exposure").wanted is Wanted.VALUE
    sitter.type("w")
    assert sitter.prompt.wanted is Wanted.TOOL
    sitter.type("tape")
    sitter.type("8")
    assert "cap_exposure: 8 in" in sitter.desk.path.read_text()
    reading = sitter.desk.audit.record.places["line"][0].stations[0].readings["cap_exposure"][0]
    assert reading.tool == "tape"


def test_sides_are_asked_until_all_are_read(tmp_path: Path) -> None:
    """Of a fact on each side the first may be read alone; the other is asked then."""
    (tmp_path / "sides@1.yaml").write_text(SIDES)
    desk = _desk(tmp_path, OUTLINE.replace("practice/hip-and-ridge@2026-11", "sides"))
    sitter = Sitter(desk)
    prompt = sitter.upto("setback")
    assert prompt.sides == ("S", "E")
    sitter.type("2")
    assert sitter.prompt.sides == ("E",)
    sitter.type("<")
    assert sitter.prompt.sides == ("S",)
    sitter.type("2 1/4")
    sitter.type("1/2")
    assert "setback: {S: 2 1/4 in, E: 1/2 in}" in desk.path.read_text()
    assert desk.audit.outcome == "fail"


def test_a_verdict_tells_what_rests_on_the_reading(tmp_path: Path) -> None:
    """Rules on the reading itself and on what is computed from it are told, failures first."""
    sitter = Sitter(_desk(tmp_path))
    prompt = sitter.upto("membrane_width")
    sitter.type("9 in")
    found = verdict_on(sitter.desk.audit, prompt.step)
    assert [f.outcome.value for f in found.findings] == ["not verified"]
    assert "lift a cap" in found.findings[0].reason
    prompt = sitter.upto("gap", spot="7 ft")
    sitter.type("2 7/8 in")
    found = verdict_on(sitter.desk.audit, prompt.step)
    told = [(f.rule.full_id, f.outcome.value) for f in found.findings if f.rule]
    assert told == [("practice/hip-and-ridge#field-gap", "fail")]
    assert found.waiting == 1  # whether the gap is even all along: another is due


TYPED = st.one_of(
    st.sampled_from(
        (
            "", "<", "?", "u", "r", "w", "=", "y", "n", "1", "2", "3", "9", "3 1/16", "32", "400",
            "78mm", "7:12", "none", "all", "0", "S, E", "S", "today", "2026-03-02", "stated",
            "stated by me", "4 me", "cap lifted", "photo during work", "n a: {b}, 'c' # d",
            "n - *x &y !z | >", "p a/b.jpg", "p ../x", 'p "', "n \N{SNOWMAN}", "n #", "n null",
            "screw", "unknown", '"q"', "n yes", "n 007", "n 1_000", "n :", "n ---", "skip", "back",
        )
    ),
    st.text(max_size=12),
    st.text(min_size=1, max_size=12).map("n {}".format),
    st.text(min_size=1, max_size=12).map("p {}".format),
)  # fmt: skip


@settings(max_examples=40, suppress_health_check=[HealthCheck.too_slow])
@given(lines=st.lists(TYPED, min_size=5, max_size=30), seed=st.integers(0, 2**16))
def test_whatever_is_typed_the_file_can_be_read(
    tmp_path_factory: pytest.TempPathFactory, lines: list[str], seed: int
) -> None:
    """No sequence of lines stops it or writes what can't be read, or loses a comment."""
    desk = _desk(tmp_path_factory.mktemp("typed"), OUTLINE + TOOLS * (seed % 2))
    memory, written = Memory(again=bool(seed % 3)), 0
    for line in lines:
        prompt = next_prompt(desk.sitting, memory)
        if prompt is None:
            break
        made = move(desk.sitting, memory, prompt, line)
        if isinstance(made.told, Quit):
            continue
        if not made.changes:
            memory = made.memory
            continue
        saved = desk.save(prompt, line, made)
        assert not saved.unsaved
        if not saved.refused:
            memory, written = saved.memory, written + 1
        text = desk.path.read_text("utf-8")
        assert text.startswith("# An invented house; this line stays.\n")
        assert "  # the hip over the porch\n" in text
        assert Auditor(Asked()).audit(desk.path).record.document.digest == desk._text.digest
    assert len(pending(desk.sitting, memory)) < 60
    assert [file.name for file in desk.path.parent.iterdir()] == ["roof.yaml"]


# writing


@pytest.mark.parametrize(
    ("before", "change", "after"),
    [
        ("a:\n", Change(("a",), "3 in"), "a: 3 in\n"),
        ("a: # which\n", Change(("a",), "3 in"), 'a: "3 in" # which\n'),
        ("a: old\nb: 1\n", Change(("a",), "new"), "a: new\nb: 1\n"),
        ("a: 'it''s'\n", Change(("a",), "x: y"), 'a: "x: y"\n'),
        ("a: {b: 1}\n", Change(("a", "c"), "2 in"), "a: {b: 1, c: 2 in}\n"),
        ("a: {b: 1,}\n", Change(("a", "c"), "2 in"), "a: {b: 1, c: 2 in,}\n"),
        ("a: {}\n", Change(("a", "c"), "2, 3"), 'a: {c: "2, 3"}\n'),
        ("a: {b: , c: 1}\n", Change(("a", "b"), "x"), "a: {b: x , c: 1}\n"),
        ("a:\n  b: 1\n# end\n", Change(("a", "c"), "2"), 'a:\n  b: 1\n  c: "2"\n# end\n'),
        ("a:\n  - x\n\nb: 1\n", Change(("a", 1), "y"), "a:\n  - x\n  - y\n\nb: 1\n"),
        ("a: [x]\n", Change(("a", 1), "y"), "a: [x, y]\n"),
        ("a: 1", Change(("b",), "y"), "a: 1\nb: y"),
        ("a: 1\r\nb:\r\n", Change(("b", "c"), "y"), "a: 1\r\nb:\r\n  c: y\r\n"),
        ("a: |\n  x\n  y\nb: 1\n", Change(("a",), "z"), "a: z\nb: 1\n"),
        ("\ufeffa: 1\n", Change(("a",), "y"), "\ufeffa: y\n"),
        (
            "a:\n  b: 1\n  stations:\n    - {at: 2 ft}\n",
            Change(("a", "c"), "y"),
            "a:\n  b: 1\n  c: y\n  stations:\n    - {at: 2 ft}\n",
        ),
    ],
)  # fmt: skip
def test_a_change_leaves_the_rest_as_it_is(before: str, change: Change, after: str) -> None:
    """A value is put where it belongs; comments, order, quotes and line ends stay."""
    assert with_changes(before.encode(), [change], name="a.yaml").decode() == after


def test_a_line_that_grows_too_long_is_put_on_several(tmp_path: Path) -> None:
    """A place in brackets is opened where its line would grow too long; readings not."""
    text = "planes:\n  S: {slope: 7:12, note: 'it''s'}\n"
    changes = [
        Change(("planes", "S", f"key_{i}"), {"value": "8 in", "how": "seen"}) for i in range(4)
    ]
    told = with_changes(text.encode(), changes, name="a.yaml").decode()
    assert told.startswith(
        "planes:\n  S:\n    slope: 7:12\n    note: 'it''s'\n    key_0: {value: 8 in,"
    )
    assert max(map(len, told.splitlines())) <= 100


WORDS = st.text(
    st.characters(codec="utf-8", exclude_categories=["Cc", "Cs", "Zl", "Zp"]), max_size=8
)
NAMES = st.sampled_from(("a", "b", "stations", "c d", "yes", "1"))
PATHS = st.lists(NAMES, min_size=1, max_size=3).map(tuple)


@settings(max_examples=150)
@given(
    made=st.lists(st.tuples(PATHS, WORDS), max_size=8),
    start=st.sampled_from(
        ("a: 1\n", "a: {b: x}\n", "# c\na:\n  # d\n  b:\n\n  stations: [x]\n", "a: |\n  x\nb: {}\n")
    ),
)
def test_what_is_written_says_what_was_meant(made: list[tuple[tuple, str]], start: str) -> None:
    """Whatever is changed where, the text reads back as the changes and nothing else."""
    raw = start.encode()
    for change in (Change(path, value) for path, value in made):
        if CONTROLS.search(str(change.value)):
            with pytest.raises(InputRejected):  # no file of ours can hold it
                with_changes(raw, [change], name="a.yaml")
            continue
        raw = with_changes(raw, [change], name="a.yaml")
        data = read_document(raw, name="a.yaml").data
        for step in change.path:
            assert isinstance(data, dict)
            data = data[step]
        assert data == change.value
    assert start.startswith("# c") <= raw.startswith(b"# c\na:\n  # d\n")


def test_what_a_text_cannot_take_is_refused(tmp_path: Path) -> None:
    """Changes that would alter more than they say are refused with a problem."""
    with pytest.raises(InputRejected) as rejected:
        with_changes(b"a: 1\n", [Change(("a",), "bell \x07")], name="a.yaml")
    assert "write this answer in by hand" in str(rejected.value.problems[0])
    with pytest.raises(ValueError, match="no place 3 in a list of 0"):
        with_changes(b"a: []\n", [Change(("a", 3), "x")], name="a.yaml")


def test_a_write_is_whole_or_not_at_all(tmp_path: Path) -> None:
    """A check that refuses, or an edit meanwhile, leaves the file as it is, and no other."""
    file = tmp_path / "roof.yaml"
    file.write_text("a: 1\n")
    file.chmod(0o640)
    before = read_text(file, name="roof.yaml")

    def refuse(new: Path) -> None:
        assert new.read_bytes() == b"a: 2\n"
        raise InputRejected(())

    with pytest.raises(InputRejected):
        write_text(file, before, b"a: 2\n", check=refuse)
    assert file.read_text() == "a: 1\n"
    with pytest.raises(Changed):
        write_text(file, before, b"a: 2\n", check=lambda _: file.write_text("a: 3\n"))
    assert file.read_text() == "a: 3\n"
    now = read_text(file, name="roof.yaml")
    text, size = write_text(file, now, b"a: 4\n", check=lambda new: new.stat().st_size)
    assert (text.raw, size, file.read_text()) == (b"a: 4\n", 5, "a: 4\n")
    assert file.stat().st_mode & 0o777 == 0o640
    file.unlink()
    with pytest.raises(Changed):
        write_text(file, text, b"a: 5\n", check=lambda _: None)
    assert list(tmp_path.iterdir()) == []
    with pytest.raises((Changed, Unsaved)):
        write_text(tmp_path / "no" / "x", text, b"", check=lambda _: None)


def test_a_lock_is_held_once_and_given_up(tmp_path: Path) -> None:
    """Two locks on one file exclude each other, however often they are taken in turn."""
    file = tmp_path / "roof.yaml"
    for _ in range(3):
        with Lock(file), pytest.raises(InputRejected), Lock(file):
            pass
        assert list(tmp_path.iterdir()) == []


def test_random_walks_answer_every_question(tmp_path: Path) -> None:
    """However answers come out, a visit ends, and each question is asked no more than it must."""
    for seed in range(5):
        folder = tmp_path / str(seed)
        folder.mkdir()
        sitter, draw = Sitter(_desk(folder)), random.Random(seed)
        typed = 0
        while (prompt := next_prompt(sitter.desk.sitting, sitter.memory)) is not None:
            words = {Wanted.HOW: "1", Wanted.PHOTO: "", Wanted.SURE: "y"}.get(prompt.wanted)
            fact = prompt.step.question.fact
            answers = ("y", "n") if fact and fact.dimension == "yes or no" else ("1", "none")
            sitter.type(words if words is not None else draw.choice((*answers, "", "u")))
            typed += 1
            assert typed < 150
        assert typed > 20
        assert pending(sitter.desk.sitting, sitter.memory) == ()

"""Sheets: every block in every format, whole and legible, and nobody's words become markup."""

from __future__ import annotations

import json
import re
import subprocess
import sys
from html.parser import HTMLParser
from itertools import pairwise
from pathlib import Path

import pytest
from markdown_it import MarkdownIt

import ridgerule.reports
from ridgerule.audit.compile import plan_for
from ridgerule.audit.findings import Outcome
from ridgerule.reports.cautions import CAUTIONS, DISCLAIMER
from ridgerule.reports.page import WORDS, Page
from ridgerule.reports.rule_sheet import history_of, rule_sheet
from ridgerule.reports.rulebook_sheet import rulebook_sheet
from ridgerule.reports.sheet import Badge, Code, Heading, Items, Pairs, Sheet, Table, Words
from ridgerule.reports.sheet_html import as_html
from ridgerule.reports.sheet_markdown import as_markdown
from ridgerule.reports.sheet_text import as_text
from ridgerule.reports.visible import visible
from ridgerule.shelf import Shelf
from workshop import ASKED, amendment, rule, rulebook, shelf

SHIPPED = (
    "practice/hip-and-ridge@2026-11",
    "code/model-residential@2021",
    "code/model-residential@2024",
    "demo/tarnfell-slate@2026-01",
    "demo/tarn-county@2026-04",
)
HOSTILE = (
    "<script>alert(1)</script> <b onclick='x'>b</b> </style></title>--> [a](http://e.test) "
    "![i](http://e.test/i.png) http://e.test www.e.test <http://e.test> **s** _e_ ~~d~~ `c` ``` "
    "a|b \\| \\ # h {{ 7*7 }} {% raw %} {# n #} &amp; &lt; $x$ \"q\" 'q' \x1b[31m \u202e \u200b "
    "\x07 [bold]r[/bold] === --- 1. 1) + > %s {0}"
)
IN_A_FILE = HOSTILE.replace("\x1b", "").replace("\x07", "")
"""The same for a rulebook's file, in which no control character is let stand."""
STYLE = (Path(ridgerule.reports.__file__).parent / "style.css").read_text("utf-8")
VOID = {"meta", "path", "br", "hr", "link", "img", "input"}


def _page(width: int, *, colour: bool = False, unicode: bool = True) -> Page:
    return Page(width=width, colour=colour, unicode=unicode)


class _Read(HTMLParser):
    """Reads HTML: its elements, their attributes, its text; refuses what is nested wrongly."""

    def __init__(self, text: str) -> None:
        super().__init__(convert_charrefs=True)
        self.elements: list[tuple[str, dict[str, str | None]]] = []
        self.words: list[str] = []
        self._open: list[str] = []
        self.feed(text)
        self.close()
        assert self._open == []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.elements.append((tag, dict(attrs)))
        if tag not in VOID:
            self._open.append(tag)

    def handle_endtag(self, tag: str) -> None:
        if tag not in VOID:
            assert self._open.pop() == tag

    def handle_data(self, data: str) -> None:
        if "style" not in self._open:
            self.words.append(data)

    @property
    def tags(self) -> set[str]:
        return {tag for tag, _ in self.elements}

    @property
    def text(self) -> str:
        return _bare("".join(self.words))


def _bare(text: str) -> str:
    """Return text without the spaces that layouts add."""
    return re.sub(r"\s", "", text)


def _from_markdown(text: str) -> _Read:
    return _Read(MarkdownIt("commonmark").enable(["table", "strikethrough"]).render(text))


EVERYTHING = Sheet(
    "A page of blocks",
    (
        Pairs((("short", "said"), ("left out", ""), ("a label that is longer than most", "told"))),
        Heading("First part"),
        Words("A paragraph of words about 3 1/16 in of open space, and of 11 15/16 in."),
        Items(("one", "two")),
        Heading("A detail", 3),
        Table(
            ("given", "comes out", "note"),
            tuple((f"case of {outcome}", outcome, "") for outcome in Outcome),
            "Cases",
        ),
        Table(("", "status"), (("1", Badge(Outcome.PASS, "met")),)),
        Heading("Second part"),
        Code("ridgerule book show x@1\n  indented ``` fence"),
        *(Heading(f"Part {number}") for number in range(3, 6)),
    ),
)


def test_text_holds_every_block() -> None:
    """Title, headings, pairs that say something, items, tables, outcomes and code are printed."""
    lines = as_text(EVERYTHING, _page(80)).splitlines()
    assert lines[:2] == ["A page of blocks", "─" * 80]
    assert "short  said" in lines
    assert "left out" not in "\n".join(lines)
    assert "FIRST PART" in lines
    assert "· one" in lines
    assert "A detail" in lines
    assert "  Cases" in lines
    for outcome in Outcome:
        (row,) = (line for line in lines if f"case of {outcome}" in line)
        assert row.endswith(_page(80).badge(outcome)[0])
    assert any(line.endswith("✓ met") for line in lines)
    assert lines[lines.index("SECOND PART") + 1 :][:2] == [
        "  ridgerule book show x@1",
        "    indented ``` fence",
    ]


def test_text_without_colour_has_no_codes_and_with_it_is_the_same_words() -> None:
    """Colour adds codes and nothing else; ASCII alone is enough where there is no more."""
    plain = as_text(EVERYTHING, _page(80))
    coloured = as_text(EVERYTHING, _page(80, colour=True))
    assert "\x1b" not in plain
    assert "\x1b[1;31m✗ FAIL" in coloured
    assert re.sub(r"\x1b\[[0-9;]*m", "", coloured) == plain
    assert as_text(EVERYTHING, _page(80, unicode=False)).isascii()


@pytest.mark.parametrize("width", [24, 40, 60, 80, 120])
def test_text_fits_the_page(width: int) -> None:
    """Nothing but code is wider than the page, and no line ends in a space."""
    sheet = Sheet(EVERYTHING.title, tuple(b for b in EVERYTHING.blocks if not isinstance(b, Code)))
    lines = as_text(sheet, _page(width)).splitlines()
    assert max(map(len, lines)) <= width
    assert all(line == line.rstrip() for line in lines)


WIDE = Table(
    ("what is asked", "what has to come of it", "class"),
    (
        ("the membrane strip lies under the whole hip, edge to edge", "at least 12 in", "major"),
        ("no fastener shows", "yes", "critical"),
    ),
)


def test_a_table_wraps_its_cells_where_the_page_is_narrow() -> None:
    """Cells wrap inside their own column, columns stay in line, rows are told apart."""
    assert as_text(Sheet("T", (WIDE,)), _page(60)).splitlines()[2:] == [
        "what is asked                     what has to come  class",
        "                                  of it",
        "─" * 60,
        "the membrane strip lies under     at least 12 in    major",
        "the whole hip, edge to edge",
        "",
        "no fastener shows                 yes               critical",
    ]


def test_a_table_too_wide_for_the_page_becomes_blocks() -> None:
    """Where its columns could not be read, each row is told label by label."""
    assert as_text(Sheet("T", (WIDE,)), _page(32)).splitlines()[2:] == [
        "what is asked",
        "  the membrane strip lies under",
        "  the whole hip, edge to edge",
        "what has to come of it",
        "  at least 12 in",
        "class",
        "  major",
        "",
        "what is asked",
        "  no fastener shows",
        "what has to come of it",
        "  yes",
        "class",
        "  critical",
    ]


def test_quantities_are_never_broken() -> None:
    """A quantity stands on one line at every width, and in HTML its spaces don't break."""
    sheet = Sheet("T", (Words("open space of 11 15/16 in. " * 9), Table(("a",), (("9 1/2 in",),))))
    for width in range(24, 60):
        for line in as_text(sheet, _page(width)).splitlines():
            assert line.count("11") == line.count("15/16") == line.count("in.")
    assert "11\N{NO-BREAK SPACE}15/16\N{NO-BREAK SPACE}in" in as_html(sheet)


def test_markdown_holds_every_block() -> None:
    """Read as Markdown, every heading, table, list and line of code is what it was meant as."""
    read = _from_markdown(as_markdown(EVERYTHING))
    assert read.tags >= {"h1", "h2", "h3", "table", "th", "td", "ul", "li", "strong", "pre", "code"}
    count = [tag for tag, _ in read.elements].count
    assert (count("table"), count("h2"), count("h3"), count("tr")) == (2, 5, 1, 7)
    for words in ("A page of blocks", "short:said", "Cases", "✓met", "  indented ``` fence"):
        assert _bare(words) in read.text
    for outcome in Outcome:
        assert _bare(_page(80).badge(outcome)[0]) in read.text


def test_html_holds_every_block_with_its_landmarks() -> None:
    """One main part, headings in order, tables with headed columns and rows, no script."""
    text = as_html(EVERYTHING)
    read = _Read(text)
    count = [tag for tag, _ in read.elements].count
    assert text.startswith("<!doctype html>\n")
    assert (count("main"), count("h1"), count("footer"), count("nav")) == (1, 1, 1, 1)
    assert ("html", {"lang": "en"}) in read.elements
    scopes = [attrs["scope"] for tag, attrs in read.elements if tag == "th"]
    assert (scopes.count("col"), scopes.count("row")) == (4, 5)
    levels = [int(tag[1]) for tag, _ in read.elements if re.fullmatch("h[1-6]", tag)]
    assert all(after <= before + 1 for before, after in pairwise(levels))
    links = [attrs["href"] for tag, attrs in read.elements if tag == "a"]
    ids = [attrs["id"] for _, attrs in read.elements if "id" in attrs]
    assert len(links) == 5
    assert {link[1:] for link in links if link} <= set(ids)
    assert len(ids) == len(set(ids))
    for words in ("a label that is longer than most", "Cases", "✓ met", "  indented ``` fence"):
        assert _bare(words) in read.text


def test_html_tells_outcomes_by_shape_and_word() -> None:
    """Every outcome has its word and its shape, so that colour adds nothing."""
    read = _Read(as_html(EVERYTHING))
    for outcome in Outcome:
        assert _bare(f"{_page(80).shape(outcome)} {WORDS[outcome]}") in read.text
    shapes = [attrs for _, attrs in read.elements if attrs.get("class") == "shape"]
    assert len(shapes) == len(Outcome) + 1
    assert all(attrs["aria-hidden"] == "true" for attrs in shapes)


def test_several_sheets_are_one_html_file() -> None:
    """Each sheet is an article with ids of its own."""
    read = _Read(as_html(EVERYTHING, EVERYTHING))
    count = [tag for tag, _ in read.elements].count
    ids = [attrs["id"] for _, attrs in read.elements if "id" in attrs]
    assert (count("article"), count("h1"), count("style")) == (2, 2, 1)
    assert len(ids) == len(set(ids)) > 2


def test_html_asks_nothing_of_the_network_and_runs_nothing() -> None:
    """The file has no script, names nothing to load, and forbids the browser to."""
    text = as_html(EVERYTHING)
    read = _Read(text)
    assert not read.tags & {"script", "link", "img", "iframe", "object", "form", "base"}
    policy = next(a for _, a in read.elements if a.get("http-equiv") == "Content-Security-Policy")
    assert policy["content"] == "default-src 'none'; style-src 'unsafe-inline'; img-src data:"
    for asked in ("url(", "@import", "http:", "https:", "</"):
        assert asked not in STYLE
    attributes = {name for _, attrs in read.elements for name in attrs}
    assert not {name for name in attributes if name.startswith("on")} | (attributes & {"src"})


def _luminance(colour: str) -> float:
    """Return relative luminance, as WCAG 2.2 defines it."""
    parts = [int(colour[i : i + 2], 16) / 255 for i in (1, 3, 5)]
    red, green, blue = (p / 12.92 if p <= 0.04045 else ((p + 0.055) / 1.055) ** 2.4 for p in parts)
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def test_contrast_is_enough_on_light_and_on_dark() -> None:
    """Every colour of words stands out from its ground by 4.5 to 1 (WCAG 2.2, 1.4.3)."""
    roots = re.findall(r":root \{(.*?)\}", STYLE, flags=re.DOTALL)
    palettes = [dict(re.findall(r"--(\w+): (#[0-9a-f]{6});", root)) for root in roots]
    light, dark = (p for p in palettes if "ink" in p)
    for palette in (light, dark):
        for words in ("ink", "quiet", "accent", "fail", "open", "pass"):
            for ground in ("paper", "wash"):
                pair = sorted((_luminance(palette[words]), _luminance(palette[ground])))
                assert (pair[1] + 0.05) / (pair[0] + 0.05) >= 4.5, (words, ground)


def test_the_style_has_a_dark_a_narrow_and_a_printed_form() -> None:
    """Colours follow the reader's choice, tables stack on a phone, paper of any size is left."""
    assert "@media screen and (prefers-color-scheme: dark)" in STYLE
    assert "@media screen and (max-width: 40rem)" in STYLE
    assert "@media print" in STYLE
    page = re.search(r"@page \{(.*?)\}", STYLE, flags=re.DOTALL)
    assert page is not None
    assert "size" not in page.group(1)


def test_wide_tables_stack_on_a_phone_and_narrow_ones_stay() -> None:
    """A stacked table keeps its roles and names each cell's column; a narrow one needs neither."""
    narrow = Table(("a", "b"), (("1", "2"),))
    read = _Read(as_html(Sheet("T", (WIDE, narrow))))
    tables = [attrs for tag, attrs in read.elements if tag == "table"]
    assert tables == [{"class": "stacked", "role": "table"}, {}]
    cells = [a for tag, a in read.elements if tag in ("td", "th") and "data-label" in a]
    assert {cell["data-label"] for cell in cells} == set(WIDE.header)
    assert {cell["role"] for cell in cells} == {"rowheader", "cell"}


HOSTILE_SHEET = Sheet(
    f"title {HOSTILE}",
    (
        Pairs(((f"label {HOSTILE}", f"pair {HOSTILE}"),)),
        Words(f"words {HOSTILE}"),
        Heading(f"heading {HOSTILE}", 3),
        Items((f"item {HOSTILE}", *(f"{start} begins" for start in "-+*>#="), "1. one", "2) two")),
        Table((f"header {HOSTILE}", "b"), ((f"cell {HOSTILE}", Badge(Outcome.FAIL, HOSTILE)),),
              f"caption {HOSTILE}"),
        Code(f"code {HOSTILE}\n```\n~~~~\n"),
    ),
)  # fmt: skip
PLACES = ("title", "label", "pair", "words", "heading", "item", "header", "cell", "caption", "code")


def test_hostile_words_stay_words_in_text() -> None:
    """Each is printed whole, what can't be seen spelt out, and no code reaches the terminal."""
    text = as_text(HOSTILE_SHEET, _page(3000, colour=True))
    told = re.sub(r"\x1b\[[0-9;]*m", "", text)
    for place in PLACES:
        assert visible(f"{place} {HOSTILE}") in told
    assert set(re.findall(r"\x1b\[[0-9;]*m", text)) <= {
        "\x1b[1m",
        "\x1b[3m",
        "\x1b[0m",
        "\x1b[1;31m",
    }
    assert not set("\u202e\u200b\x07") & set(text)


def test_hostile_words_stay_words_in_markdown() -> None:
    """Read as Markdown they come back as they were, and nothing in them is an element."""
    text = as_markdown(HOSTILE_SHEET)
    read = _from_markdown(text)
    for place in PLACES:
        assert _bare(visible(f"{place} {HOSTILE}")) in read.text
    assert read.tags == {
        "h1", "h3", "p", "ul", "li", "strong", "table", "thead", "tbody", "tr", "th", "td",
        "pre", "code",
    }  # fmt: skip
    assert [tag for tag, _ in read.elements].count("code") == 1
    assert [tag for tag, _ in read.elements].count("li") == 10
    assert [tag for tag, _ in read.elements].count("td") == 2
    assert not set("\x1b\u202e\u200b\x07") & set(text)


def test_hostile_words_stay_words_in_html() -> None:
    """They are escaped wherever they stand, attributes too, and templates don't read them."""
    plain = {tag for tag, _ in _Read(as_html(EVERYTHING, EVERYTHING)).elements}
    text = as_html(HOSTILE_SHEET)
    read = _Read(text)
    for place in PLACES:
        assert _bare(visible(f"{place} {HOSTILE}")) in read.text
    assert read.tags <= plain
    assert {name for _, attrs in read.elements for name in attrs if name.startswith("on")} == set()
    assert "49" not in read.text
    assert not set("\x1b\u202e\u200b\x07") & set(text)
    assert text.count("</style>") == text.count("</title>") == 1


def _hostile(field: str) -> str:
    """Return hostile words that name their field; a value is no longer than a rulebook takes."""
    return f"{field} {IN_A_FILE}"[: 200 if field == "limit" else None]


def _hostile_book() -> tuple[str, str]:
    """Return a rulebook and its base with hostile words wherever a rulebook takes any."""
    texts = {name: _hostile(f"base-{name}") for name in ("title", "why", "remedy")}
    cases = [{"given": {"line.kind": "hip", "line.word": IN_A_FILE}, "expect": "not verified",
              "note": _hostile("case-note")}]  # fmt: skip
    facts = {
        "line.word": {"dimension": "text", "measure": _hostile("measure"), "ask": _hostile("ask"),
                      "tool": _hostile("tool")},
        "line.pick": {"dimension": "choice", "measure": "m", "choices": [_hostile("choice"), "b"]},
    }  # fmt: skip
    base = json.loads(
        rulebook(
            rule("r", "line.word", {"equal_to": _hostile("limit")}, when={"line.kind": "hip"},
                 cases=cases, **texts),
            rule("gone", "line.pick", "b"),
            name="base@1", facts=facts, authority=_hostile("authority"), note=_hostile("note"),
            derive={"line.twice": {"dimension": "length", "measure": _hostile("computed"),
                                   "formula": _hostile("formula"),
                                   "source": _hostile("formula-source"),
                                   "sum": ["line.length", "line.length"]}},
            coverages=[{"id": "c", "title": _hostile("coverage"), "evidence": _hostile("evidence"),
                        "conditions": {"all_of": ["r"]}}],
        )
    )  # fmt: skip
    local = json.loads(
        rulebook(
            name="local@1",
            based_on=["base@1"],
            amendments=[amendment("r", title=_hostile("new-title"), reason=_hostile("reason"))],
            withdrawals=[{"rule": "gone", "reason": _hostile("gone-reason"), "source": "us",
                          "permitted_by": _hostile("permitted")}],
        )
    )  # fmt: skip
    for book in (base, local):
        book["title"] = _hostile(f"{book['rulebook']}-book")
        book["sources"]["us"] = {
            "basis": "invented",
            **{
                key: _hostile(f"source-{key}") for key in ("document", "edition", "section", "note")
            },
        }
    return json.dumps(base), json.dumps(local)


SAID_OF_A_RULE = (
    "new-title", "base-why", "base-remedy", "reason", "limit", "measure", "ask", "tool",
    "source-document", "source-section", "source-note", "case-note",
)  # fmt: skip
SAID_OF_A_BOOK = (
    "base-book", "authority", "note", "measure", "ask", "tool", "choice", "computed", "formula",
    "formula-source", "coverage", "evidence",
)  # fmt: skip
SAID_OF_CHANGES = ("local-book", "reason", "gone-reason", "permitted", "base-title", "new-title")


def test_hostile_rulebooks_make_harmless_pages() -> None:
    """In each field that holds words, markup is printed as it stands, in every format."""
    base, local = _hostile_book()
    found = shelf(base, local)
    plan = plan_for([("local@1", ASKED), ("base@1", ASKED)], found)
    changed, first = (planned.editions[0] for planned in plan.books)
    (check,) = changed.checks
    sheets = (
        (rule_sheet(history_of(check.rule, plan, "local@1")), SAID_OF_A_RULE),
        (rulebook_sheet(first, plan), SAID_OF_A_BOOK),
        (rulebook_sheet(changed, plan), SAID_OF_CHANGES),
    )
    for sheet, said in sheets:
        text, markdown, page = as_text(sheet, _page(4000)), as_markdown(sheet), as_html(sheet)
        for told in (_bare(text), _from_markdown(markdown).text, _Read(page).text):
            for field in said:
                assert _bare(visible(_hostile(field))) in told, field
        assert not _from_markdown(markdown).tags & {"script", "b", "a", "img", "em", "s", "del"}
        assert not _Read(page).tags & {"script", "b", "img"}
        assert not set("\x1b\u202e\u200b\x07") & {*text, *markdown, *page}


@pytest.fixture(scope="module")
def shipped_sheets() -> dict[str, Sheet]:
    """Return the page of every shipped rulebook, and of every rule in each, withdrawn ones too."""
    sheets: dict[str, Sheet] = {}
    for name in SHIPPED:
        found = Shelf()
        (planned,) = plan_for([(name, ASKED)], found).books
        under = [book.name for book in planned.editions[0].adapted.documents()]
        plan = plan_for([(each, ASKED) for each in under], found)
        edition = plan.books[0].editions[0]
        sheets[name] = rulebook_sheet(edition, plan)
        gone = edition.adapted.withdrawn
        for each in (*(check.rule for check in edition.checks), *gone):
            sheets[f"{name} {each.full_id}"] = rule_sheet(history_of(each, plan, name))
    return sheets


def test_every_shipped_rule_has_a_page_in_every_format(shipped_sheets: dict[str, Sheet]) -> None:
    """Each page fits a screen of 80 columns, reads as Markdown and as HTML, and says its title."""
    assert len(shipped_sheets) > 200
    assert set(SHIPPED) <= set(shipped_sheets)
    for name, sheet in shipped_sheets.items():
        text = as_text(sheet, _page(80))
        assert max(map(len, text.splitlines())) <= 80, name
        for told in (
            _bare(text),
            _from_markdown(as_markdown(sheet)).text,
            _Read(as_html(sheet)).text,
        ):
            for words in (sheet.title, DISCLAIMER, *CAUTIONS):
                assert _bare(words) in told, name


def test_pages_of_shipped_rules_name_facts_in_plain_words(shipped_sheets: dict[str, Sheet]) -> None:
    """A limit or a condition on a page is in words; a fact's own name is told once, as written."""
    named = re.compile(r"\b(?:roof|plane|line|station|joint|opening|wall|attic)\.[a-z]")
    for name, sheet in shipped_sheets.items():
        for block in sheet.blocks:
            told = []
            if isinstance(block, Pairs):
                told = [w for label, w in block.pairs if label not in ("written as", "formula")]
            elif isinstance(block, Table):
                told = [*block.header, *(str(cell) for row in block.rows for cell in row)]
            elif isinstance(block, Items):
                told = [item for item in block.items if " is rulebooks/" not in item]
            assert not [words for words in told if named.search(words)], name


def test_the_html_writer_is_loaded_for_html_alone(tmp_path: Path) -> None:
    """Neither an audit nor a page of text loads the template engine."""
    code = (
        "import sys; from ridgerule.cli.app import run\n"
        "statuses = run(['demo']), run(['book', 'show', 'practice/hip-and-ridge'])\n"
        "before = 'jinja2' in sys.modules\n"
        "run(['book', 'show', 'practice/hip-and-ridge', '--format', 'html'])\n"
        "sys.exit(f'{statuses} {before} {\"jinja2\" in sys.modules}')"
    )
    command = (sys.executable, "-c", code)
    done = subprocess.run(command, check=False, cwd=tmp_path, capture_output=True)
    assert done.stderr.decode().splitlines()[-1] == "(0, 0) False True"

"""The pages as a browser and a printer show them: nothing cut off, all of it reached by keyboard.

Chromium is driven through chromedriver, and axe-core looks for barriers. Where they are not
installed these tests are skipped; where `RIDGERULE_AXE` names axe-core's file, as in `.ci/run`,
nothing is skipped and whatever is missing is a failure.
"""

from __future__ import annotations

import base64
import json
import os
import re
import shutil
import subprocess
import sys
import xml.etree.ElementTree as ET
from collections import defaultdict
from itertools import product
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest

from ridgerule.reports.drawing_svg import PAPER_STYLE
from ridgerule.reports.pdf import as_pdf

if TYPE_CHECKING:
    from collections.abc import Iterator

AXE = os.environ.get("RIDGERULE_AXE", "")
PROGRAMS = ("chromium", "chromedriver", "pdftotext", "pdfinfo", "pdftohtml")
MISSING = [name for name in PROGRAMS if not shutil.which(name)]
pytestmark = [
    pytest.mark.xdist_group("browser"),
    pytest.mark.skipif(bool(MISSING) and not AXE, reason=f"not installed: {', '.join(MISSING)}"),
]
if AXE:
    import selenium
else:
    selenium = pytest.importorskip("selenium", reason="not installed: selenium")

from selenium import webdriver  # noqa: E402 - skipped above where it is not there
from selenium.webdriver.common.by import By  # noqa: E402
from selenium.webdriver.common.keys import Keys  # noqa: E402
from selenium.webdriver.support.ui import WebDriverWait  # noqa: E402

COMMAND = (sys.executable, "-c", "from ridgerule.cli import main; main()")
FIXTURES = Path(__file__).parents[1] / "fixtures"
DEMO = str(FIXTURES / "demo" / "harrow-lane.yaml")
CLEAN = str(FIXTURES / "clean" / "mill-bank.yaml")
VISITS = FIXTURES / "second-visit"
PAGES = {
    "demo": ("demo",),
    "two roofs": ("audit", DEMO, CLEAN),
    "metric": ("audit", str(FIXTURES / "metric" / "tern-quay.yaml"), "--all"),
    "turret": ("audit", str(FIXTURES / "turret" / "heron-turret.yaml")),
    "warranty": ("warranty", DEMO),
    "second visit": ("reinspect", str(VISITS / "first.yaml"), str(VISITS / "second.yaml")),
    "rule": ("book", "show", "practice/hip-and-ridge#field-gap"),
    "rulebook": ("book", "show", "demo/tarn-county"),
    "proof": ("book", "prove", "demo/tarn-county"),
}
"""Each page looked at, and the command that makes it."""
WIDTHS = (360, 768, 1280)
SCHEMES = ("light", "dark")
PAPERS = {"Letter": (8.5, 11.0), "A4": (8.27, 11.69)}
"""Sheets of paper and their sides in inches."""
OPTIONS = (
    "--headless=new", "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run",
    "--disable-background-networking", "--disable-component-update", "--disable-sync",
    "--disable-dev-shm-usage",
)  # fmt: skip
SECONDS = 20
"""How long a browser may take for what it does at once; nothing is waited for longer."""

CUT_OFF = """
const seen = [], wide = innerWidth;
const named = at => `${at.tagName} ${at.className.baseVal ?? at.className}`;
const told = (what, at) => seen.push(`${what}: ${named(at)}`
  + ` ${at.textContent.trim().slice(0, 60)}`);
const scrolls = at => { for (let up = at; up; up = up.parentElement)
  if (/auto|scroll/.test(getComputedStyle(up).overflowX)) return true; return false; };
const unseen = at => at.closest('thead')
  && getComputedStyle(at.closest('thead')).clipPath !== 'none';
if (document.documentElement.scrollWidth > wide) seen.push(`the page is wider than ${wide}`);
for (const at of document.body.querySelectorAll('*')) {
  const box = at.getBoundingClientRect(), style = getComputedStyle(at);
  if (!box.width || unseen(at) || at.closest('title, desc, style')) continue;
  if (!scrolls(at) && (box.right > wide + 1 || box.left < -1)) told('outside the page', at);
  const drawing = at.closest('svg');
  if (drawing && at.tagName === 'text') {
    const round = drawing.getBoundingClientRect();
    if (box.left < round.left - 1 || box.right > round.right + 1
        || box.top < round.top - 1 || box.bottom > round.bottom + 1) told('cut by its drawing', at);
  }
  if (!drawing && style.display !== 'inline' && !/auto|scroll/.test(style.overflowX)
      && !scrolls(at) && at.scrollWidth > at.clientWidth + 1) told('wider than its box', at);
}
return seen;
"""
"""Tells whatever does not fit: outside the page, outside its drawing, wider than its own box."""

MARKED = """
let number = 0;
const mark = (where, place) => {
  const sign = document.createElement('span');
  sign.textContent = ` q${number}w `;
  sign.style = 'font-size: 1px; line-height: 0; float: none; white-space: nowrap';
  where.insertAdjacentElement(place, sign);
};
const kinds = {};
const kind = name => { kinds[++number] = name; };
for (const row of document.querySelectorAll('tr')) {
  if (row.closest('thead')) continue;
  kind('row');
  for (const cell of row.cells) { mark(cell, 'afterbegin'); mark(cell, 'beforeend'); }
}
for (const at of document.querySelectorAll('.finding')) {
  kind('finding');
  mark(at.querySelector('h3'), 'afterbegin');
  for (const last of at.querySelectorAll('dl > div:last-child dd')) mark(last, 'beforeend');
}
for (const at of document.querySelectorAll('dl > div')) {
  kind('label');
  mark(at.querySelector('dt'), 'afterbegin'); mark(at.querySelector('dd'), 'beforeend');
}
for (const at of document.querySelectorAll('h2, h3, caption')) {
  let next = at.nextElementSibling ?? at.parentElement.nextElementSibling;
  if (at.tagName === 'CAPTION') next = at.closest('table').querySelector('tbody th');
  while (next && next.firstElementChild && !/^(P|DT|LI|TH|TD|H3|FIGURE)$/.test(next.tagName))
    next = next.querySelector('p, dt, li, tbody th, tbody td, h3, figcaption');
  if (!next || next.closest('svg, figure')) continue;
  kind('heading');
  mark(at, 'afterbegin'); mark(next, 'afterbegin');
}
return kinds;
"""
"""Puts signs at both ends of all that may not be cut; returns what each of them stands for."""


class Shown:
    """A browser with one page open in it."""

    def __init__(self, driver: webdriver.Chrome, files: Files) -> None:
        self.driver = driver
        self.files = files

    def tell(self, command: str, **said: object) -> dict[str, Any]:
        """Say something to the browser in its own protocol; return the answer."""
        return self.driver.execute_cdp_cmd(command, said)

    def open(self, name: str, *, width: int = 1280, scheme: str = "light") -> None:
        """Open a page in a window of a width and a colour scheme."""
        self.tell("Emulation.setDeviceMetricsOverride",
                  width=width, height=900, deviceScaleFactor=1, mobile=False)  # fmt: skip
        feature = {"name": "prefers-color-scheme", "value": scheme}
        self.tell("Emulation.setEmulatedMedia", media="screen", features=[feature])
        self.driver.get("about:blank")
        self.driver.get(self.files[name].as_uri())
        assert self.driver.find_elements(By.CSS_SELECTOR, "main article h1"), "no page"

    def run(self, script: str, *given: object) -> Any:
        """Run a script of the test's own in the page."""
        return self.driver.execute_script(script, *given)

    def picture(self, **clip: float) -> bytes:
        """Return the page as it looks, from its top or in a rectangle."""
        size = self.run("const at = document.documentElement;"
                        "return {x: 0, y: 0, width: at.scrollWidth,"
                        " height: Math.min(at.scrollHeight, 5000)}")  # fmt: skip
        area = {**size, **clip, "scale": 1}
        shot = self.tell("Page.captureScreenshot", captureBeyondViewport=True, clip=area)
        return base64.b64decode(shot["data"])

    def press(self, key: str) -> None:
        """Press a key where the focus is."""
        self.driver.switch_to.active_element.send_keys(key)

    def printed(self, paper: str) -> bytes:
        """Return the page printed on sheets of paper."""
        width, height = PAPERS[paper]
        self.tell("Emulation.setEmulatedMedia", media="", features=[])
        told = self.tell("Page.printToPDF", paperWidth=width, paperHeight=height,
                         preferCSSPageSize=False)  # fmt: skip
        return base64.b64decode(told["data"])


def made(*command: str, seed: str = "0") -> bytes:
    """Return what a command of ours prints."""
    done = subprocess.run(
        [*COMMAND, *command], capture_output=True, check=False,
        env={**os.environ, "PYTHONHASHSEED": seed},
    )  # fmt: skip
    assert done.returncode in {0, 1, 4}, done.stderr.decode()
    assert b"Traceback" not in done.stderr, done.stderr.decode()
    assert done.stdout, done.stderr.decode()
    return done.stdout


class Files:
    """The file of each page, made once it is asked for."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder

    def __getitem__(self, name: str) -> Path:
        """Return the file of a page."""
        file = self.folder / f"{name.replace(' ', '-')}.html"
        if not file.exists():
            file.write_bytes(made(*PAGES[name], "--format", "html"))
        return file


@pytest.fixture(scope="module")
def files(tmp_path_factory: pytest.TempPathFactory) -> Files:
    """Return the file of each page."""
    return Files(tmp_path_factory.mktemp("pages"))


@pytest.fixture(scope="module")
def shown(files: Files, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Shown]:
    """Start one browser for all tests of this file."""
    assert not MISSING, f"RIDGERULE_AXE is set, but not installed: {', '.join(MISSING)}"
    options = webdriver.ChromeOptions()
    options.binary_location = str(shutil.which("chromium"))
    for option in (*OPTIONS, f"--user-data-dir={tmp_path_factory.mktemp('browser')}"):
        options.add_argument(option)
    options.set_capability("goog:loggingPrefs", {"performance": "ALL", "browser": "ALL"})
    service = webdriver.ChromeService(executable_path=shutil.which("chromedriver"))
    driver = webdriver.Chrome(options=options, service=service)
    driver.set_script_timeout(60)
    yield Shown(driver, files)
    driver.quit()


@pytest.mark.parametrize(("width", "scheme"), tuple(product(WIDTHS, SCHEMES)))
@pytest.mark.parametrize("name", PAGES)
def test_nothing_is_cut_off(shown: Shown, name: str, width: int, scheme: str) -> None:
    """On a phone, a tablet and a desk no page is wider than the screen, nor any words cut."""
    shown.open(name, width=width, scheme=scheme)
    assert shown.run("return innerWidth") == width
    assert shown.run("return matchMedia('(prefers-color-scheme: dark)').matches") == (
        scheme == "dark"
    )
    assert shown.run(CUT_OFF) == []


def test_what_does_not_fit_is_found(shown: Shown) -> None:
    """The look for what is cut off finds a table, a word and a label that were made too wide."""
    shown.open("demo", width=360)
    shown.run("document.querySelector('h1').style.width = '500px'")
    shown.run("document.querySelector('.kicker').innerHTML = '<b>' + 'a'.repeat(90) + '</b>';"
              "document.querySelector('.kicker').style.overflowWrap = 'normal'")  # fmt: skip
    shown.run("document.querySelector('.plan text').setAttribute('x', '900')")
    found = " ".join(shown.run(CUT_OFF))
    assert "the page is wider than 360" in found
    assert "outside the page: H1" in found
    assert "wider than its box: P kicker" in found
    assert "cut by its drawing: text" in found


def focused(shown: Shown) -> dict[str, Any]:
    """Return what has the focus: its link, how its outline looks, where it is."""
    return shown.run("""
        const at = document.activeElement, style = getComputedStyle(at);
        const box = at.getBoundingClientRect();
        return {tag: at.tagName, href: at.getAttribute('href') ?? '', label: at.ariaLabel ?? '',
          outline: style.outlineStyle, thick: parseFloat(style.outlineWidth),
          inView: box.bottom > 0 && box.top < innerHeight && box.right > 0 && box.left < innerWidth,
          isDrawn: !!at.closest('.drawing')};""")


@pytest.mark.parametrize("width", [360, 1280])
def test_tab_reaches_every_finding_on_the_drawing(shown: Shown, width: int) -> None:
    """From the top, Tab comes to every number on the plan in turn, each in view and outlined."""
    shown.open("demo", width=width)
    links = shown.run("return [...document.querySelectorAll('.plan a')].map("
                      "at => at.getAttribute('href'))")  # fmt: skip
    shown.run("document.body.focus()")
    reached = []
    for _ in range(200):
        shown.press(Keys.TAB)
        at = focused(shown)
        if at["tag"] == "BODY" or (reached and not at["isDrawn"]):
            break
        assert at["inView"], at
        assert at["outline"] not in {"none", "hidden"}, at
        assert at["thick"] >= 2, at
        if at["isDrawn"]:
            assert at["label"].startswith("Finding "), at
            reached.append(at["href"])
    assert reached == links
    report = json.loads(made("demo", "--format", "json"))
    counts = report["counts"]
    assert len(set(links)) == len(links) == counts["fail"] + counts["not verified"] == 50
    ids = shown.run("return [...document.querySelectorAll('[id^=finding-]')].map(at => at.id)")
    assert {link[1:] for link in links} == set(ids)


def test_the_focus_on_a_drawing_can_be_seen(shown: Shown) -> None:
    """A number on the plan looks otherwise when the keyboard is on it, in either scheme."""
    for scheme in SCHEMES:
        shown.open("demo", scheme=scheme)
        at = shown.driver.find_element(By.CSS_SELECTOR, ".plan a[href='#finding-4']")
        box = shown.run("const b = arguments[0].getBoundingClientRect();"
                        "return {x: b.x + scrollX - 6, y: b.y + scrollY - 6,"
                        " width: b.width + 12, height: b.height + 12}", at)  # fmt: skip
        before = shown.picture(**box)
        shown.press(Keys.TAB)
        shown.run("arguments[0].focus({preventScroll: true})", at)
        assert shown.picture(**box) != before, scheme


def test_a_number_on_the_drawing_leads_to_its_finding(shown: Shown) -> None:
    """Enter on each number of the plan brings that finding into view, marked as the target."""
    shown.open("demo")
    links = shown.driver.find_elements(By.CSS_SELECTOR, ".plan a")
    assert len(links) == 50
    for link in links:
        anchor = str(link.get_dom_attribute("href"))
        shown.run("arguments[0].focus()", link)
        link.send_keys(Keys.ENTER)
        WebDriverWait(shown.driver, SECONDS).until(
            lambda _, anchor=anchor: shown.run("return location.hash") == anchor, anchor
        )
        found = shown.run("""
            const at = document.querySelector(':target'), box = at.getBoundingClientRect();
            return [at.id, box.top >= 0 && box.top < innerHeight, getComputedStyle(at).outlineStyle,
              at.querySelector('h3, th').textContent.match(/\\d+/)[0]];""")
        assert found == [anchor[1:], True, "solid", anchor.removeprefix("#finding-")]


def test_every_roof_on_one_page_has_its_own_links(shown: Shown) -> None:
    """With two roofs on one page no number of the second leads to the first."""
    shown.open("two roofs")
    strays = shown.run("""
        const owner = at => at.closest('article'), to = at => at.getAttribute('href');
        return [...document.querySelectorAll('.plan a')].filter(at =>
          owner(document.querySelector(to(at))) !== owner(at)).map(to);""")
    assert strays == []
    assert len(shown.driver.find_elements(By.CSS_SELECTOR, "article figure.plan")) == 2


@pytest.mark.skipif(not AXE, reason="not installed: axe-core (RIDGERULE_AXE names its axe.min.js)")
@pytest.mark.parametrize(("width", "scheme"), [(360, "light"), (1280, "light"), (1280, "dark")])
@pytest.mark.parametrize("name", PAGES)
def test_axe_finds_nothing(shown: Shown, name: str, width: int, scheme: str) -> None:
    """axe-core finds no barrier at all in a page, serious or not."""
    shown.open(name, width=width, scheme=scheme)
    shown.run(Path(AXE).read_text("utf-8"))
    found = shown.driver.execute_async_script("""
        const done = arguments[0];
        axe.run(document, {preload: false, resultTypes: ['violations']}).then(
          told => done({run: told.passes.length, violations: told.violations.map(one =>
            [one.id, one.impact, one.nodes.slice(0, 5).map(node => node.html.slice(0, 200))])}),
          fault => done({fault: String(fault)}));""")
    assert found["violations"] == []
    assert found["run"] > 15


@pytest.mark.parametrize("name", PAGES)
def test_a_page_runs_and_fetches_nothing(shown: Shown, name: str) -> None:
    """A page asks for its own file alone, logs nothing, and is the same without JavaScript."""
    shown.driver.get_log("performance")
    shown.driver.get_log("browser")
    shown.open(name)
    with_scripts = shown.picture()
    source = shown.driver.page_source
    logged = shown.driver.get_log("performance")
    events = [json.loads(line["message"])["message"] for line in logged]
    sent = [event for event in events if event["method"] == "Network.requestWillBeSent"]
    asked = {event["params"]["request"]["url"] for event in sent}
    own = shown.files[name].as_uri()
    assert own in asked
    assert {url for url in asked if not url.startswith(("data:", "about:"))} == {own}
    assert shown.driver.get_log("browser") == []
    shown.tell("Emulation.setScriptExecutionDisabled", value=True)
    try:
        shown.open(name)
        assert shown.picture() == with_scripts
        assert shown.driver.page_source == source
    finally:
        shown.tell("Emulation.setScriptExecutionDisabled", value=False)


def texts(pdf: bytes, folder: Path) -> list[str]:
    """Return the words of each sheet of a PDF, in the order they were laid down."""
    file = folder / "printed.pdf"
    file.write_bytes(pdf)
    told = subprocess.run(["pdftotext", "-raw", file, "-"], capture_output=True, check=True)
    return told.stdout.decode().split("\f")[:-1]


def sheets_of_signs(sheets: list[str]) -> dict[str, set[int]]:
    """Return the sheets on which each of the signs that `MARKED` puts in is found."""
    found: dict[str, set[int]] = defaultdict(set)
    for number, text in enumerate(sheets, start=1):
        for sign in re.findall(r"q(\d+)w", text):
            found[sign].add(number)
    return found


def held_together(sheets: list[str], kinds: dict[str, str]) -> None:
    """Hold that no row, label, finding or heading with what follows it is cut by a sheet's end."""
    found = sheets_of_signs(sheets)
    assert found.keys() == kinds.keys(), "a sign is not printed"
    cut = {(kinds[sign], sign, tuple(sorted(on))) for sign, on in found.items() if len(on) > 1}
    assert cut == set()


@pytest.mark.parametrize("paper", PAPERS)
@pytest.mark.parametrize("name", PAGES)
def test_no_row_is_cut_on_paper(shown: Shown, tmp_path: Path, name: str, paper: str) -> None:
    """Printed by the browser, each row, label and finding is whole on one numbered sheet."""
    shown.open(name)
    kinds = shown.run(MARKED)
    assert kinds
    sheets = texts(shown.printed(paper), tmp_path)
    held_together(sheets, kinds)
    for number, text in enumerate(sheets, start=1):
        assert f"{number} / {len(sheets)}" in text


def test_a_row_that_is_cut_is_found(shown: Shown, tmp_path: Path) -> None:
    """The look for cut rows finds them where rows may be cut."""
    shown.open("demo")
    shown.run("const style = document.createElement('style'); document.head.append(style);"
              "style.textContent = '@media print { * { break-inside: auto !important;"
              " break-after: auto !important; orphans: 1 !important; widows: 1 !important }"
              " td { line-height: 30mm } }'")  # fmt: skip
    kinds = shown.run(MARKED)
    found = sheets_of_signs(texts(shown.printed("Letter"), tmp_path))
    assert {"row", "finding"} <= {kinds[sign] for sign, on in found.items() if len(on) > 1}


def test_each_sheet_names_its_record(shown: Shown, tmp_path: Path) -> None:
    """Printed by the browser, two roofs have each the digest of its own record on their sheets."""
    shown.open("two roofs")
    told = shown.driver.find_elements(By.CSS_SELECTOR, ".about-rulebooks")
    digests = [re.findall(r"\b[0-9a-f]{64}\b", at.text)[-1] for at in told]
    sheets = texts(shown.printed("A4"), tmp_path)
    owners = [next(i for i, d in enumerate(digests) if f"record SHA-256 {d}" in text)
              for text in sheets]  # fmt: skip
    assert owners == sorted(owners)
    assert set(owners) == {0, 1}


def test_the_first_sheet_has_the_verdict_and_the_plan(shown: Shown, tmp_path: Path) -> None:
    """The first printed sheet says how it came out, how many failed, and shows the roof."""
    shown.open("demo")
    for paper in PAPERS:
        sheets = texts(shown.printed(paper), tmp_path)
        assert len(sheets) < 20
        for said in ("FAIL", "24 failed, 26 not verified", "By rulebook", "not to scale"):
            assert said in sheets[0], said


@pytest.fixture(scope="module")
def pdf(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return the demo's own PDF."""
    file = tmp_path_factory.mktemp("pdf") / "demo.pdf"
    file.write_bytes(made("demo", "--format", "pdf", seed="1"))
    return file


def test_a_pdf_is_the_same_bytes_twice(pdf: Path) -> None:
    """The demo's PDF has no clock and no chance in it."""
    assert made("demo", "--format", "pdf", seed="2") == pdf.read_bytes()


def test_a_pdf_is_numbered_named_and_bookmarked(pdf: Path, files: Files) -> None:
    """Our own PDF numbers its sheets, names the record on each, and lists its headings."""
    page = files["demo"].read_text("utf-8")
    sheets = texts(pdf.read_bytes(), pdf.parent)
    told = subprocess.run(["pdfinfo", pdf], capture_output=True, check=True, text=True).stdout
    said = dict(re.findall(r"^([\w ]+):\s+(.*)$", told, re.MULTILINE))
    assert int(said["Pages"]) == len(sheets) < 20
    assert said["Title"] == "Harrow Lane House (invented) (HL-01): fail"
    digest = json.loads(made("demo", "--format", "json"))["record"]["file_digest"]
    for number, text in enumerate(sheets, start=1):
        assert f"{number} / {len(sheets)}" in text
        assert f"HL-01: record SHA-256 {digest}" in text
    outline = subprocess.run(
        ["pdftohtml", "-xml", "-i", "-stdout", pdf], capture_output=True, check=True
    ).stdout
    root = ET.fromstring(outline)  # noqa: S314 - our own
    headings = re.findall(r"<h2[^>]*>(.*?)</h2>", page)
    items = root.iterfind(".//item")
    named = [" ".join("".join(item.itertext()).split()) for item in items]
    assert [name for name in named if name in headings] == headings
    assert len(named) == len(re.findall(r"<h[1-3]", page))


def test_a_pdf_cuts_no_row(shown: Shown, tmp_path: Path) -> None:
    """Our own PDF keeps each row, label and finding whole on one sheet."""
    shown.open("demo")
    kinds = shown.run(MARKED)
    held_together(texts(as_pdf(shown.driver.page_source), tmp_path), kinds)


def test_a_drawing_has_its_colours_on_paper(shown: Shown) -> None:
    """What each drawing carries for paper is what the page's own style prints it in."""
    shown.open("demo")
    shown.tell("Emulation.setEmulatedMedia", media="print", features=[])
    for name, variable in (
        ("ink", "ink"), ("faint", "quiet"), ("outcome-fail", "fail"), ("outcome-open", "open"),
        ("outcome-pass", "pass"), ("outcome-apart", "quiet"),
    ):  # fmt: skip
        of_page = shown.run("return getComputedStyle(document.documentElement)"
                            ".getPropertyValue(arguments[0])", f"--{variable}")  # fmt: skip
        carried = re.search(rf"\.{name}\b[^{{]*{{ color: (#\w+)", PAPER_STYLE)
        assert carried, name
        assert of_page.strip() == carried[1], name
    carries = shown.run("return [...document.querySelectorAll('.drawing')].map(at =>"
                        " at.querySelector('style').media)")  # fmt: skip
    assert set(carries) == {"print"}
    assert len(carries) > 6

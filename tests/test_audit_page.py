"""The page that is handed over: all of the report in one file, nothing in it run or fetched."""

from __future__ import annotations

import base64
import io
from html.parser import HTMLParser
from pathlib import Path
from typing import Any

import PIL.Image
import pytest

from ridgerule.audit.findings import Audit, Outcome
from ridgerule.cli.inputs import Asked, Auditor
from ridgerule.cli.pages import html_of
from ridgerule.photos import photos_beside
from ridgerule.problems import InputRejected
from ridgerule.reports.cautions import CAUTIONS, DISCLAIMER
from ridgerule.reports.pdf import as_pdf
from ridgerule.reports.photo_images import WIDEST, images_of
from ridgerule.reports.view import Settings, view_of
from workshop import EVERYTHING, audit, plan, record, rule, rulebook

FIXTURES = Path(__file__).parents[1] / "fixtures"
DEMO = FIXTURES / "demo" / "harrow-lane.yaml"
CLEAN = FIXTURES / "clean" / "mill-bank.yaml"
PAGE = Settings(for_data=False)


def audited(path: Path) -> tuple[Audit, Path]:
    """Return the audit of a fixture with its folder."""
    return Auditor(Asked()).audit(path), path.parent


class Seen(HTMLParser):
    """What an HTML page holds: its words, tags, ids, links and attributes."""

    def __init__(self, page: str) -> None:
        super().__init__()
        self.words: list[str] = []
        self.tags: list[str] = []
        self.open: list[str] = []
        self.ids: list[str] = []
        self.links: list[str] = []
        self.attributes: list[tuple[str, str]] = []
        self.feed(page)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        """Keep a tag and its attributes."""
        self.tags.append(tag)
        if tag not in {"meta", "img", "br", "link", "input"}:
            self.open.append(tag)
        for name, value in attrs:
            self.attributes.append((name, value or ""))
            if name == "id":
                self.ids.append(value or "")
            if name == "href":
                self.links.append(value or "")

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        """Keep a tag that closes itself, such as those of drawings."""
        self.handle_starttag(tag, attrs)
        if self.open and self.open[-1] == tag:
            self.open.pop()

    def handle_endtag(self, tag: str) -> None:
        """Hold that tags close in the order they opened."""
        assert self.open, f"</{tag}> closes nothing"
        assert self.open.pop() == tag, f"</{tag}> closes another tag"

    def handle_data(self, data: str) -> None:
        """Keep the words outside the style."""
        if not self.open or self.open[-1] != "style":
            self.words.append(data)

    @property
    def text(self) -> str:
        """The words as they are read, spaces made one."""
        return " ".join(" ".join(self.words).split())


def held(seen: Seen) -> None:
    """Hold what every page keeps: nothing run, nothing fetched, links that lead somewhere."""
    assert seen.open == []
    assert not {"script", "iframe", "object", "embed", "link", "form"} & set(seen.tags)
    assert not [name for name, _ in seen.attributes if name.startswith("on")]
    outside = [v for n, v in seen.attributes if n in {"src", "href", "xlink:href", "action"}
               and not v.startswith(("#", "data:image/jpeg;base64,"))]  # fmt: skip
    assert outside == []
    assert len(seen.ids) == len(set(seen.ids))
    assert {link[1:] for link in seen.links} <= set(seen.ids)


@pytest.fixture(scope="module")
def demo() -> tuple[Audit, str]:
    """Return the demo's audit and its page."""
    found = audited(DEMO)
    return found[0], html_of([found], PAGE)


def test_the_page_keeps_to_itself(demo: tuple[Audit, str]) -> None:
    """The demo's page runs and fetches nothing, and every link of it leads somewhere in it."""
    held(Seen(demo[1]))


def test_the_same_audit_gives_the_same_bytes(demo: tuple[Audit, str]) -> None:
    """A page has no clock and no order of its own."""
    assert html_of([audited(DEMO)], PAGE) == demo[1]


def test_every_failure_and_open_point_has_an_anchor(demo: tuple[Audit, str]) -> None:
    """Each finding that failed or is open can be linked to by its number."""
    view = view_of(demo[0], settings=PAGE)
    numbers = {f.number for o in (Outcome.FAIL, Outcome.NOT_VERIFIED) for f in view.of(o)}
    found = {int(i.removeprefix("finding-")) for i in Seen(demo[1]).ids if i.startswith("finding-")}
    assert found == numbers
    assert len(numbers) == 50


def test_the_page_says_what_an_inspection_report_says(demo: tuple[Audit, str]) -> None:
    """Identification, date, item, method, instruments, conditions, results, who is responsible."""
    text = Seen(demo[1]).text.replace("\N{NO-BREAK SPACE}", " ")
    view = view_of(demo[0], settings=PAGE)
    for said in (
        "Harrow Lane House (invented) (HL-01)", "Inspected 2026-09-14 by inspector 7",
        "composite slate", "permit date 2026-04-20", "Statement of conformity by simple acceptance",
        "What is not verified has not passed", "Instruments", "expanded uncertainty",
        "Left out of this inspection", "signature", DISCLAIMER, *CAUTIONS,
        f"SHA-256 {view.digest}", *(book.digest for book in view.books),
        *(book.name for book in view.books),
    ):  # fmt: skip
        assert said in text, said
    for finding in view.of(Outcome.FAIL):
        assert finding.title in text
        assert finding.remedy in text
        assert finding.place in text


def test_pages_of_several_roofs_have_anchors_of_their_own() -> None:
    """Two roofs on one page share no anchor, and each has its own contents."""
    page = html_of([audited(DEMO), audited(CLEAN), audited(DEMO)], PAGE)
    seen = Seen(page)
    held(seen)
    assert seen.text.count("Inspection report") == 3
    assert "finding-1" in seen.ids
    assert "roof-3-finding-1" in seen.ids


def test_photos_stand_beside_their_finding_once(demo: tuple[Audit, str]) -> None:
    """Each photo is on the page once, by its name and digest, and no larger than a page needs."""
    seen = Seen(demo[1])
    pictures = [value for name, value in seen.attributes if name == "src"]
    assert len(pictures) == len(set(pictures)) == 35
    failure = demo[1].split('id="finding-4"')[1].split('id="finding-5"')[0]
    assert "photos/h1-9ft.jpg" in failure
    for picture in pictures:
        data = base64.b64decode(picture.partition(",")[2])
        with PIL.Image.open(io.BytesIO(data)) as image:
            assert max(image.size) <= WIDEST
            assert not image.getexif()


def _photo(path: Path, *, size: tuple[int, int] = (1600, 900)) -> bytes:
    """Write a photo that says where and with what it was taken; return what it must not show."""
    exif = PIL.Image.Exif()
    exif[0x010F], exif[0x0110] = "SECRET-MAKER", "SECRET-CAMERA"
    exif[0x0112] = 6  # turned a quarter
    gps = exif.get_ifd(0x8825)
    gps[1], gps[2] = "N", (51.0, 30.0, 0.0)
    image = PIL.Image.new("RGB", size, (90, 96, 110))
    image.save(path, exif=exif, comment=b"SECRET-COMMENT")
    with path.open("ab") as file:
        file.write(b"<script>alert('SECRET-TAIL')</script>")
    return b"SECRET"


def shown(folder: Path, *names: str) -> dict[str, Any]:
    """Return the images of photos in a folder."""
    data = {"roof": {"id": "R", "photo": list(names)}}
    against = plan(rulebook(rule("any", "plane.slope", {"at_least": "3:12"})))
    return dict(images_of(photos_beside(record(data, against), folder)))


def test_nothing_but_the_picture_is_shown(tmp_path: Path) -> None:
    """Place, device, comment and whatever hangs on a photo's file stay out of the page."""
    secret = _photo(tmp_path / "a.jpg")
    image = shown(tmp_path, "a.jpg")["a.jpg"]
    data = base64.b64decode(image.address.partition(",")[2])
    assert secret in (tmp_path / "a.jpg").read_bytes()
    assert secret not in data
    assert b"Exif" not in data
    assert (image.width, image.height) == (450, 800)  # turned as the camera was held


def test_what_can_not_be_decoded_is_told(tmp_path: Path) -> None:
    """A photo that is none inside, or far too large, is named with the reason and not shown."""
    (tmp_path / "broken.jpg").write_bytes(b"\xff\xd8\xff\xe0" + b"no picture at all" * 40)
    (tmp_path / "cut.png").write_bytes(b"\x89PNG\r\n\x1a\n" + bytes(40))
    bomb = PIL.Image.new("1", (20_000, 20_000))
    bomb.save(tmp_path / "bomb.png")
    found = shown(tmp_path, "broken.jpg", "cut.png", "bomb.png", "none.jpg", "../a.jpg")
    assert all(image.address == "" for image in found.values())
    faults = {name: image.fault for name, image in found.items()}
    assert faults["none.jpg"] == "is not beside the record"
    assert faults["../a.jpg"] == "lies outside the record's folder"
    assert faults["broken.jpg"].startswith("can't be decoded as JPEG")
    assert faults["cut.png"].startswith("can't be decoded as PNG")
    assert faults["bomb.png"].startswith("can't be decoded as PNG")


HOSTILE = (
    "<script>alert(1)</script>",
    '"><img src=x onerror=alert(1)>',
    "{{ 7 * 7 }}{% raw %}",
    "</style><style>*{display:none}",
    "\x1b[31mred\x1b[0m",
    "\u202edrow\u202c \u2066x\u2069",
    "&lt;b&gt; &#60; ]]> <!-- -->",
    "a" * 10_000,
)


@pytest.mark.parametrize("text", HOSTILE)
def test_hostile_text_is_text(text: str) -> None:
    """Whatever a record or a rulebook says is read as words, and nothing of it runs."""
    book = rulebook(
        rule("a", "plane.slope", {"at_least": "12:12"}, title=text, why=text, remedy=text),
        rule("b", "line.length", {"at_least": "1 ft"}),
        name="test/hostile@1", authority=text, note=text,
    )  # fmt: skip
    data = {
        "roof": {"id": "R", "name": text, "place": text, "note": text, "photo": text},
        "inspection": {"inspector": text, "weather": text, "client": text},
        "complete": dict.fromkeys(EVERYTHING, "all"),
        "instruments": {"tape": {"graduation": "1/16 in", "note": text}},
        "planes": {"S": {"slope": {"value": "3:12", "note": text, "by": text}}},
    }
    if "\x1b" in text:
        with pytest.raises(Exception, match="control character"):
            audit(data, book)
        return
    page = html_of([(audit(data, book), Path("/nonexistent"))], PAGE)
    seen = Seen(page)
    held(seen)
    assert page.count("<style>") == 2
    if text.isascii():
        assert " ".join(text.split()) in seen.text


def test_a_pdf_is_the_same_twice_and_names_the_record() -> None:
    """The PDF of a page has no clock in it, and stands on its own."""
    book = rulebook(rule("a", "plane.slope", {"at_least": "12:12"}))
    data = {"planes": {"S": {"slope": "3:12"}}, "complete": dict.fromkeys(EVERYTHING, "all")}
    page = html_of([(audit(data, book), Path("/nonexistent"))], PAGE)
    try:
        first = as_pdf(page)
    except InputRejected as rejected:
        pytest.skip(f"no PDF can be made here: {rejected}")
    assert first.startswith(b"%PDF-")
    assert as_pdf(page) == first

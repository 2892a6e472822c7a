"""Photos that a record names: there, pictures, in its folder, and what a missing one does."""

from __future__ import annotations

import hashlib
import os
from typing import TYPE_CHECKING, Any

import pytest

from ridgerule.audit.evaluate import evaluate
from ridgerule.documents import load_document
from ridgerule.photo_names import photos_named
from ridgerule.photos import LARGEST, NoPhoto, Photo, digest_of, look_at, photos_beside, with_photos
from ridgerule.shipped import shipped
from workshop import only, plan, record, rule, rulebook

if TYPE_CHECKING:
    from pathlib import Path

JPEG = b"\xff\xd8\xff\xe0" + bytes(60)
PNG = b"\x89PNG\r\n\x1a\n" + bytes(60)
WEBP = b"RIFF\x00\x00\x00\x00WEBPVP8 " + bytes(60)


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """Return a record's folder with some photos in it, and others outside."""
    home = tmp_path / "roof"
    (home / "photos").mkdir(parents=True)
    (home / "photos/a.jpg").write_bytes(JPEG)
    (home / "photos/b.png").write_bytes(PNG)
    (home / "photos/c.webp").write_bytes(WEBP)
    (home / "photos/text.jpg").write_text("<script>alert(1)</script>")
    (home / "photos/empty.jpg").write_bytes(b"")
    (tmp_path / "secret.jpg").write_bytes(JPEG)
    (home / "photos/link.jpg").symlink_to(tmp_path / "secret.jpg")
    (home / "photos/inside.jpg").symlink_to(home / "photos/a.jpg")
    (home / "away").symlink_to(tmp_path)
    os.mkfifo(home / "photos/pipe.jpg")
    with (home / "photos/huge.jpg").open("wb") as file:
        file.truncate(LARGEST + 1)
    return home


@pytest.mark.parametrize(
    ("name", "kind"),
    [("photos/a.jpg", "JPEG"), ("photos/b.png", "PNG"), ("photos/c.webp", "WebP"),
     ("./photos/a.jpg", "JPEG")],
)  # fmt: skip
def test_a_photo_is_known_by_its_first_bytes(folder: Path, name: str, kind: str) -> None:
    """JPEG, PNG and WebP pictures are told by what is in them, with size and digest."""
    found = look_at(name, folder)
    assert isinstance(found, Photo)
    data = (folder / name).read_bytes()
    assert (found.kind, found.size) == (kind, len(data))
    assert digest_of(found) == hashlib.sha256(data).hexdigest()


@pytest.mark.parametrize(
    ("name", "reason"),
    [
        ("photos/none.jpg", "is not beside the record"),
        ("photos", "is no file"),
        ("photos/text.jpg", "is no JPEG, PNG or WebP picture"),
        ("photos/empty.jpg", "is no JPEG, PNG or WebP picture"),
        ("photos/link.jpg", "leads through a link, which is not followed"),
        ("photos/inside.jpg", "leads through a link, which is not followed"),
        ("away/secret.jpg", "leads through a link, which is not followed"),
        ("photos/pipe.jpg", "is no file"),
        ("photos/huge.jpg", "is larger than 64 MiB"),
        ("../secret.jpg", "lies outside the record's folder"),
        ("photos/../../secret.jpg", "lies outside the record's folder"),
        ("/etc/passwd", "is not named from the record's own folder"),
        ("C:\\secret.jpg", "is not named from the record's own folder"),
        ("..\\secret.jpg", "is not named from the record's own folder"),
        ("//host/share/a.jpg", "is not named from the record's own folder"),
        ("photos/a\x1b[31m.jpg", "has control characters in its name"),
        ("photos/a\x00.jpg", "has control characters in its name"),
        ("x" * 300, "is not beside the record"),
    ],
)
def test_what_is_no_photo_is_refused_with_the_reason(folder: Path, name: str, reason: str) -> None:
    """Nothing outside the folder, through a link or that is no picture is ever shown."""
    assert look_at(name, folder) == NoPhoto(name, reason)


def test_a_stated_digest_is_checked(folder: Path) -> None:
    """A photo is the one a record means only if its SHA-256 is the one given."""
    right = hashlib.sha256(JPEG).hexdigest()
    assert isinstance(look_at("photos/a.jpg", folder, stated_digest=right), Photo)
    assert look_at("photos/a.jpg", folder, stated_digest="0" * 64) == NoPhoto(
        "photos/a.jpg", "is not the file whose SHA-256 the record gives"
    )


BOOK = rulebook(
    rule("shown", "opening.flashed", "present", evidence={"photo": True}), name="test/photos@1"
)
PLAN = plan(BOOK)


@pytest.mark.parametrize(
    ("photo", "outcome", "reason"),
    [
        ("photos/a.jpg", "pass", ""),
        (["photos/none.jpg", "photos/a.jpg"], "pass", ""),
        ({"file": "photos/a.jpg", "sha256": hashlib.sha256(JPEG).hexdigest()}, "pass", ""),
        (None, "not verified", "opening.flashed at opening O: a photo is missing"),
        ("photos/none.jpg", "not verified",
         "opening.flashed at opening O: photo photos/none.jpg is not beside the record"),
        ({"file": "photos/a.jpg", "sha256": "0" * 64}, "not verified",
         ("opening.flashed at opening O: photo photos/a.jpg is not the file whose SHA-256 the "
         "record gives")),
    ],
)  # fmt: skip
def test_a_photo_that_is_not_there_shows_nothing(
    folder: Path, photo: Any, outcome: str, reason: str
) -> None:
    """A rule that asks for a photo is not verified where the one named can't be shown."""
    long = {"value": True} if photo is None else {"value": True, "photo": photo}
    data = {"planes": {"S": {}}, "openings": {"O": {"plane": "S", "flashed": long}}}
    found = only(evaluate(PLAN, with_photos(record(data, PLAN), folder)), "shown", "opening O")
    assert (str(found.outcome), found.reason) == (outcome, reason)


def test_every_photo_named_is_looked_for_once(folder: Path) -> None:
    """Photos are found wherever a record names them: places, readings, lists, with a digest."""
    data = {
        "roof": {"id": "R", "photo": "photos/a.jpg"},
        "planes": {"S": {"photo": ["photos/b.png", {"file": "photos/none.jpg"}],
                         "slope": {"value": "7:12", "photo": "photos/a.jpg"}}},
    }  # fmt: skip
    made = record(data, PLAN)
    found = photos_beside(made, folder)
    assert [*found] == ["photos/a.jpg", "photos/b.png", "photos/none.jpg"]
    assert [type(photo) for photo in found.values()] == [Photo, Photo, NoPhoto]


def test_the_demo_has_every_photo_but_those_it_is_to_lack() -> None:
    """The photos that come with the demo are there, and are drawn pictures."""
    document = load_document(shipped("demo") / "harrow-lane.yaml")
    names = photos_named(document)
    assert len(names) == 35
    found = [look_at(name, shipped("demo")) for name in names]
    assert {type(photo) for photo in found} == {Photo}

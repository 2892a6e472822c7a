"""Photos made small enough for a page, with nothing in them but the picture.

A photo is decoded and encoded anew: where and with what it was taken, and whatever else a file can
carry besides its picture, stays behind. Needs Pillow, which comes with the extra `photos`.
"""

from __future__ import annotations

import base64
import importlib.util
import io
import warnings
from typing import TYPE_CHECKING

from msgspec import Struct

from ridgerule.photos import NoPhoto, digest_of

if TYPE_CHECKING:
    from collections.abc import Mapping

    from ridgerule.photos import Photo

WIDEST = 800
"""Pixels of a picture's longer side on the page."""
MOST_PIXELS = 100_000_000
"""Pictures of more pixels are not opened."""
_QUALITY = 72
NEEDS_PILLOW = "needs the extra `photos` to be shown: pip install 'ridgerule[photos]'"


class Image(Struct, frozen=True):
    """A photo as a page shows it."""

    name: str
    digest: str
    """SHA-256 of the photo's file, not of the picture shown."""
    address: str
    """The picture itself, as a `data:` address; empty where it can't be shown."""
    width: int
    height: int
    fault: str = ""
    """Why it can't be shown."""


def images_of(photos: Mapping[str, Photo | NoPhoto]) -> dict[str, Image]:
    """Return each photo small, or why it can't be shown, by its name."""
    return {name: _image(photo) for name, photo in photos.items()}


def _image(photo: Photo | NoPhoto) -> Image:
    if isinstance(photo, NoPhoto):
        return Image(photo.name, "", "", 0, 0, photo.reason)
    try:
        digest = digest_of(photo)
    except OSError:
        return Image(photo.name, "", "", 0, 0, "is gone since it was looked for")
    if importlib.util.find_spec("PIL") is None:
        return Image(photo.name, digest, "", 0, 0, NEEDS_PILLOW)
    return _small(photo, digest)


def _small(photo: Photo, digest: str) -> Image:
    import PIL.Image  # noqa: PLC0415 - an extra
    import PIL.ImageOps  # noqa: PLC0415

    PIL.Image.MAX_IMAGE_PIXELS = MOST_PIXELS
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("error", PIL.Image.DecompressionBombWarning)
            with PIL.Image.open(photo.path, formats=[photo.kind.upper()]) as opened:
                opened.draft("RGB", (2 * WIDEST, 2 * WIDEST))
                small = PIL.ImageOps.exif_transpose(opened).convert("RGB")
        small.thumbnail((WIDEST, WIDEST))
        out = io.BytesIO()
        # A new picture: no place, no device, no thumbnail of what was cropped away.
        clean = PIL.Image.new("RGB", small.size)
        clean.paste(small)
        clean.save(out, "JPEG", quality=_QUALITY, optimize=True)
    except (OSError, ValueError, SyntaxError, MemoryError, PIL.Image.DecompressionBombError,
            PIL.Image.DecompressionBombWarning) as error:  # fmt: skip
        kind = type(error).__name__
        return Image(photo.name, digest, "", 0, 0, f"can't be decoded as {photo.kind} ({kind})")
    address = f"data:image/jpeg;base64,{base64.b64encode(out.getvalue()).decode()}"
    return Image(photo.name, digest, address, *clean.size)

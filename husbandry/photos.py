"""Photos as they are kept: upright, of a size that loads on a phone, and without what the camera wrote into them.

A camera writes the place and the time into a picture. Where a rare turtle is kept is nobody's business.
"""

from io import BytesIO
from pathlib import PurePath
from typing import Any

from django.core.exceptions import ValidationError
from django.core.files.base import ContentFile
from PIL import Image, ImageOps

LONGEST_SIDE = 1600
MOST_BYTES = 20 * 1024 * 1024
MOST_PIXELS = 80_000_000  # a small file can hold a picture that fills the memory
KINDS = ("JPEG", "PNG", "WEBP")
ACCEPT = "image/jpeg,image/png,image/webp"
TYPES = "JPEG, PNG or WebP"


def clean_photo(upload: Any) -> ContentFile:
    """An uploaded picture as a plain JPEG file. Raises ValidationError in words for what is no picture, or too large."""
    if upload.size > MOST_BYTES:
        raise ValidationError(
            f"The photo has {upload.size / 1e6:.0f} MB.\nAt most {MOST_BYTES / 1e6:.0f} MB: send it smaller."
        )
    picture = _opened(upload)
    if picture.width * picture.height > MOST_PIXELS:
        raise ValidationError("The photo has too many pixels.\nSend it smaller, under 80 megapixels.")
    return _as_jpeg(picture, PurePath(upload.name or "photo").stem)


def _opened(upload: Any) -> Image.Image:
    try:
        upload.seek(0)
        return Image.open(upload, formats=KINDS)
    except Exception:  # Pillow raises several kinds for a file that is damaged or no picture
        raise ValidationError(f"This is no picture that can be read.\nA {TYPES} file will do.") from None


def _as_jpeg(picture: Image.Image, stem: str) -> ContentFile:
    try:
        picture.draft("RGB", (LONGEST_SIDE, LONGEST_SIDE))  # a JPEG is decoded smaller, which saves memory
        upright = ImageOps.exif_transpose(picture).convert("RGB")
    except Exception:
        raise ValidationError(
            "The picture is damaged: it cannot be read to its end.\nTake or send it again."
        ) from None
    upright.thumbnail((LONGEST_SIDE, LONGEST_SIDE))
    bare = Image.new("RGB", upright.size)  # a new picture carries none of the camera's notes
    bare.paste(upright)
    kept = BytesIO()
    bare.save(kept, "JPEG", quality=85, optimize=True)
    return ContentFile(kept.getvalue(), name=f"{stem[:60] or 'photo'}.jpg")

"""The one place where Pillow is used to write a PNG.

Law: the same picture gives the same bytes with the same release of Pillow. Knows no chip and no frame.
"""

from __future__ import annotations

import io

from PIL import Image

from ..door.given import instance


class _PngBytes(io.BytesIO):
    """A file in memory, known as PNG by its name: asked for a format instead, Pillow loads the writers of others too."""

    name = "frame.png"


def png_bytes(image: Image.Image) -> bytes:
    """``image`` as the bytes of a PNG file."""
    instance("image", image, Image.Image, "a Pillow image")
    out = _PngBytes()
    image.save(out, compress_level=6)
    return out.getvalue()

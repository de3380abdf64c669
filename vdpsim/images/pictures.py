"""Any picture in: a file or a Pillow image becomes 8-bit sRGB dots, opaque or transparent.

Law: what a person sees in the picture is what comes out, and everything that was done to it on the way is told in ``notes``;
a picture in plain 8-bit colours keeps each of them exactly. A picture's size is looked up in its header and refused before
anything is unpacked. Whatever the bytes, it is a Picture or an InputError. Knows no chip.
"""

from __future__ import annotations

import io
import warnings
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import numpy.typing as npt
from PIL import Image, UnidentifiedImageError

from ..colour.profile import CannotError, eight_bits, in_srgb
from ..door.arrays import mask, texts
from ..door.arrays import picture as dots_of
from ..door.given import instance, whole_number
from ..door.given import path as path_of
from ..door.given import text as text_of
from ..door.shown import counted
from ..files.packed import read, wrong

Dots = npt.NDArray[np.uint8]

LARGEST = 64 << 20
"""Bytes; a larger file is refused."""

MOST_DOTS = 1 << 24
"""Dots; a picture of more is refused where nothing else is said."""

HALF = 128
"""The least alpha, of 255, of a dot that becomes opaque."""

KINDS = ("PNG", "JPEG", "GIF", "WEBP", "BMP", "TIFF", "PPM", "PCX", "TGA", "QOI", "JPEG2000", "AVIF")
"""Kinds of files that are read, by Pillow's names, as far as the Pillow in use can. Others are not even tried: for some of
them Pillow runs other programs.
"""

_TURNS = {
    2: Image.Transpose.FLIP_LEFT_RIGHT,
    3: Image.Transpose.ROTATE_180,
    4: Image.Transpose.FLIP_TOP_BOTTOM,
    5: Image.Transpose.TRANSPOSE,
    6: Image.Transpose.ROTATE_270,
    7: Image.Transpose.TRANSVERSE,
    8: Image.Transpose.ROTATE_90,
}
"""What makes a picture upright, by its EXIF orientation (Exif 2.3, tag 0x0112)."""

_ORIENTATION = 0x0112


@dataclass(frozen=True, eq=False, repr=False)
class Picture:
    """A picture as dots.

    ``rgb``: uint8 (lines, dots, 3), 8-bit sRGB, 0 where not opaque. ``opaque``: bool (lines, dots). Both are read-only.
    ``notes``: what was done on the way in, in plain words. ``name``: what to call it.
    Raises TypeError or ValueError for arrays that are none such.
    """

    rgb: Dots
    opaque: npt.NDArray[np.bool_]
    notes: tuple[str, ...]
    name: str

    def __post_init__(self) -> None:
        """Keep both arrays as views that cannot be written to."""
        rgb = dots_of("rgb", self.rgb).view()
        opaque = mask(
            "opaque", self.opaque, rgb.shape[:2], f"bools (lines, dots), as rgb has them: {rgb.shape[:2]}"
        ).view()
        rgb.flags.writeable = opaque.flags.writeable = False
        for name, value in (("rgb", rgb), ("opaque", opaque), ("notes", texts("notes", self.notes))):
            object.__setattr__(self, name, value)
        text_of("name", self.name)


def open_picture(path: str | Path, *, most: int = MOST_DOTS) -> Picture:
    """The picture in the file at ``path``: of several frames the first.

    Raises InputError, with the file's name, where it cannot be read, is damaged or cut off, of no kind in KINDS, longer than
    LARGEST bytes, or has more than ``most`` dots.
    """
    most = whole_number("most", most, 1)
    return picture_from(read(path_of("path", path), LARGEST), str(path), most=most)


def picture_from(data: bytes, file: str, *, most: int = MOST_DOTS) -> Picture:
    """The picture whose file has the bytes ``data``; ``file`` is its name for messages. See open_picture."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # Pillow warns of oddities that it then gets over
        try:
            image = _opened(data)
            _check_size(image, most)
            if image.format == "PNG":
                _opened(data).verify()  # all chunks are there, with the check sums that they should have
            return _picture(image, _frames(image), Path(file).name, data)
        except UnidentifiedImageError:
            known = ", ".join(KINDS)
            raise wrong(
                file, f"is no picture of a kind that is read here, or is damaged at its beginning: {known}"
            ) from None
        except Image.DecompressionBombError:
            raise wrong(file, f"must have at most {most} dots, has far more") from None
        except CannotError as error:
            raise wrong(file, str(error)) from None
        except Exception as error:  # noqa: BLE001 - a decoder fails in more ways than it lists; each means a damaged file
            raise wrong(file, f"is damaged or cut off: {error}") from None


def from_image(image: Image.Image, name: str = "picture", *, most: int = MOST_DOTS) -> Picture:
    """A Pillow image, of any mode that Pillow's readers give, as a picture. Nothing of ``image`` is changed.

    Raises InputError, with ``name``, where it has more than ``most`` dots or none, cannot be loaded, or has numbers that are no
    8- or 16-bit colours.
    """
    instance("image", image, Image.Image, "a Pillow image")
    name, most = text_of("name", name), whole_number("most", most, 1)
    try:
        _check_size(image, most)
        return _picture(image, [], name, None)
    except CannotError as error:
        raise wrong(name, str(error)) from None
    except Exception as error:  # noqa: BLE001 - a file may stand behind the image, which is read only now
        raise wrong(name, f"cannot be loaded: {error}") from None


def is_picture(data: bytes) -> bool:
    """Whether ``data`` begins as a picture of some kind in KINDS does."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        try:
            _opened(data)
        except UnidentifiedImageError:
            return False
        except Exception:  # noqa: BLE001 - it was known as a picture before it failed
            return True
    return True


def _opened(data: bytes) -> Image.Image:
    """The header of the picture in ``data``."""
    Image.init()
    return Image.open(io.BytesIO(data), formats=[kind for kind in (*KINDS, "MPO") if kind in Image.OPEN])


def _check_size(image: Image.Image, most: int) -> None:
    across, down = image.size
    if across * down > most:
        raise CannotError(f"must have at most {most} dots, has {across}x{down} = {across * down}")
    if not across * down:
        raise CannotError(f"must have at least one dot, is {across}x{down}")


def _frames(image: Image.Image) -> list[str]:
    """What to say of a file with several pictures."""
    count = getattr(image, "n_frames", 1)
    moving = image.format in ("GIF", "PNG", "WEBP", "AVIF")
    return [f"the first of {count} {'frames' if moving else 'pictures'} in the file"] if count > 1 else []


def _picture(image: Image.Image, notes: list[str], name: str, data: bytes | None) -> Picture:
    turned = _orientation(image)
    colours = eight_bits(image, data)
    left = _orientation(image)  # TIFF files are upright once they are loaded, and PNG files tell only then
    rgb, told = in_srgb(colours)
    alpha = colours.alpha
    if left in _TURNS:
        rgb = rgb.transpose(_TURNS[left])
        alpha = alpha and alpha.transpose(_TURNS[left])
    if turned in _TURNS or left in _TURNS:
        told.append("turned upright, as its EXIF orientation says")
    return _cut_out(rgb, alpha, [*notes, *colours.notes, *told], name)


def _orientation(image: Image.Image) -> int:
    try:
        found = image.getexif().get(_ORIENTATION, 1)
    except Exception:  # noqa: BLE001 - damaged EXIF data say nothing; the picture is none the worse
        return 1
    return found if isinstance(found, int) else 1


def _cut_out(rgb: Image.Image, alpha: Image.Image | None, notes: list[str], name: str) -> Picture:
    """The dots of ``rgb`` that ``alpha`` leaves at least half of."""
    dots = np.array(rgb, np.uint8)
    opaque = np.ones(dots.shape[:2], np.bool_)
    if alpha is not None:
        levels = np.asarray(alpha, np.uint8)
        opaque = levels >= HALF
        half = int(np.count_nonzero((levels > 0) & (levels < 255)))
        if half:
            told = f"{counted(half, 'half-transparent dot')} became opaque or transparent at one half"
            notes.append(told)
        dots[~opaque] = 0
    return Picture(dots, opaque, tuple(notes), name)

"""A picture's colours: from whatever numbers a file has to 8 bits a channel, and from whatever colour space to sRGB.

Law: 8-bit RGB and grey without a profile, or with one that means sRGB, pass unchanged; whatever is done otherwise is told.
Numbers that are no colours of 8 or 16 bits raise CannotError. Knows Pillow, no file name and no chip.
"""

from __future__ import annotations

import io
from dataclasses import dataclass, field
from typing import Any

import numpy as np
import numpy.typing as npt
from PIL import Image, ImageCms, features

from ..door.shown import clipped

NEAR = 2
"""A profile that moves no channel of any colour by more than so many of 255 means sRGB, and nothing is converted."""

SRGB_GAMMA = 0.45455
"""What a PNG file's gAMA chunk says where it means sRGB (W3C, PNG, third edition, section 11.3.2.2)."""

_DEPTH, _KIND = 24, 25
"""Where in a PNG file stand its bits a channel and its kind of colour."""

_LOW_HALF = {2: "RGB;16L", 4: "RGBA", 6: "RGBA;16L"}
"""How to unpack a PNG file's 16-bit colours of some kind so that their lower bytes come out: as though these were the upper
ones. Grey with alpha, two bytes each, comes out whole, as wide as RGBA of 8 bits.
"""

_BITS_PER_SAMPLE = 258
"""A TIFF file's tag."""

_SPACES = {"RGB": ("RGB", "L"), "GRAY": ("L",), "CMYK": ("CMYK",), "Lab": ("LAB",)}
"""Which of Pillow's modes a profile suits, by its name for its colour space. Grey is RGB too."""

_ROUNDED = ((np.arange(65536, dtype=np.int64) * 255 + 32767) // 65535).astype(np.uint8)
"""The 8-bit number of each 16-bit one: v x 255 / 65535, rounded to the nearest (W3C, PNG, third edition, section 13.12)."""


class CannotError(Exception):
    """The picture is of a kind that is not taken, or too large; the message says what is allowed and what was given."""


@dataclass
class FileColours:
    """A picture on its way.

    ``image`` is of mode L, RGB, CMYK or LAB, ``alpha`` of mode L or none, ``profile`` the file's; ``notes`` say what was done.
    """

    image: Image.Image
    alpha: Image.Image | None = None
    profile: bytes | None = None
    notes: list[str] = field(default_factory=list)


def eight_bits(image: Image.Image, data: bytes | None) -> FileColours:
    """``image`` with 8 bits a channel; ``data`` is its whole file, where there is one. Loads ``image``, and changes nothing."""
    image.load()
    wide = _wide(image, data)
    colours = _by_mode(image, data) if wide is None else _rounded(wide, image.info.get("transparency"))
    profile = image.info.get("icc_profile")
    colours.profile = profile if isinstance(profile, bytes) and profile else None
    gamma = image.info.get("gamma")
    plain = colours.profile is None and "srgb" not in image.info
    if plain and isinstance(gamma, float) and abs(gamma - SRGB_GAMMA) > 0.01:
        colours.notes.append(f"its gamma of {gamma:g} was left aside: its numbers were taken as sRGB")
    return colours


def in_srgb(colours: FileColours) -> tuple[Image.Image, list[str]]:
    """The picture as RGB in sRGB, and what was done for it. A profile that cannot be used is left aside."""
    image, told = colours.image, []
    if colours.profile is not None:
        try:
            converted = _by_profile(image, colours.profile)
        except Exception as error:  # noqa: BLE001 - profiles are programs of many authors; a bad one is no reason to stop
            told.append(f"its colour profile was left aside: {clipped(error, 200)}")
        else:
            if converted is None:
                return image.convert("RGB"), []
            return converted, ["a colour profile was converted to sRGB"]
    if image.mode == "CMYK":
        told.append("CMYK without a profile that can be used became RGB by the plain formula")
    elif image.mode == "LAB":
        image = _transformed(image, ImageCms.ImageCmsProfile(ImageCms.createProfile("LAB")))
        told.append("Lab colours were converted to sRGB")
    return image.convert("RGB"), told


def _by_mode(image: Image.Image, data: bytes | None) -> FileColours:
    """Colours of up to 8 bits a channel, by Pillow's mode."""
    mode = image.mode
    if mode in ("P", "PA"):
        image = image.convert("RGBA" if mode == "PA" or "transparency" in image.info else "RGB")
    elif mode in ("La", "RGBa"):
        image = image.convert(mode.upper())
    elif mode in ("RGBX", "HSV", "YCbCr"):
        image = image.convert("RGB")
    notes = ["of 16 bits a channel the upper 8 were kept"] if _was_cut(image) else []
    if image.mode in ("LA", "RGBA"):
        return FileColours(image.convert(image.mode[:-1]), image.getchannel("A"), notes=notes)
    if image.mode not in ("1", "L", "RGB", "CMYK", "LAB"):
        raise CannotError(f"must have colours as RGB, CMYK, Lab, grey or a palette, has Pillow's mode {image.mode}")
    clear = _clear(image, data) if mode in ("1", "L", "RGB") else None
    image = image.convert("L") if image.mode == "1" else image
    alpha = None if clear is None else _all_but(np.asarray(image), clear)
    return FileColours(image, alpha, notes=notes)


def _clear(image: Image.Image, data: bytes | None) -> Any:
    """The one colour that is transparent in a picture without alpha, as numbers of 8 bits, or None."""
    clear = image.info.get("transparency")
    if image.mode == "1" and isinstance(clear, int):
        return 255 if clear else 0  # some versions of Pillow say 1, others 255
    if image.format == "PNG" and image.mode == "L" and isinstance(clear, int) and data is not None and data[_DEPTH] < 8:
        return clear * (255 // ((1 << data[_DEPTH]) - 1))  # the file's own number; its dots are spread over 0 to 255
    return clear


def _all_but(dots: npt.NDArray[Any], clear: Any) -> Image.Image | None:
    """Alpha: 0 where ``dots`` have the colour ``clear``, else 255; None where that is no colour of such dots."""
    if not isinstance(clear, int | tuple) or np.shape(clear) != dots.shape[2:]:
        return None
    same = dots == np.array(clear)
    return Image.fromarray(np.where(same.all(axis=2) if same.ndim == 3 else same, 0, 255).astype(np.uint8))


def _was_cut(image: Image.Image) -> bool:
    """Whether Pillow has cut a TIFF file's 16-bit colours, for which it has no mode."""
    tags: Any = getattr(image, "tag_v2", {})
    bits = tags.get(_BITS_PER_SAMPLE)
    return isinstance(bits, tuple) and max(bits, default=0) > 8


def _wide(image: Image.Image, data: bytes | None) -> npt.NDArray[np.uint16] | None:
    """A picture's 16-bit numbers, (lines, dots) or (lines, dots, channels); None where it has fewer bits."""
    if image.mode == "F":
        raise CannotError("must have whole numbers of at most 16 bits a channel, has floating-point numbers")
    if image.mode.startswith("I"):
        numbers = np.asarray(image)
        if numbers.size and not (0 <= numbers.min() and numbers.max() <= 65535):
            told = f"{numbers.min()} to {numbers.max()}"
            raise CannotError(f"must have at most 16 bits a channel, numbers 0 to 65535, has {told}")
        return numbers.astype(np.uint16)
    if image.format != "PNG" or data is None or data[_DEPTH] != 16:
        return None
    low: Any = Image.open(io.BytesIO(data), formats=["PNG"])
    low.tile = [(*tile[:3], _LOW_HALF[data[_KIND]]) for tile in low.tile]
    halves = np.asarray(low).astype(np.uint16)
    if data[_KIND] == 4:
        return halves[..., 0::2] << np.uint16(8) | halves[..., 1::2]
    return np.asarray(image).astype(np.uint16) << np.uint16(8) | halves


def _rounded(wide: npt.NDArray[np.uint16], clear: Any) -> FileColours:
    """16-bit grey, grey with alpha, RGB or RGBA as 8 bits; ``clear``: the one colour that is transparent, or None."""
    notes = ["16 bits a channel were rounded to 8"]
    dots = _ROUNDED[wide]
    if dots.ndim == 2 or dots.shape[2] == 3:
        return FileColours(Image.fromarray(dots), None if clear is None else _all_but(wide, clear), notes=notes)
    grey = dots[..., 0] if dots.shape[2] == 2 else dots[..., :3]
    return FileColours(Image.fromarray(np.ascontiguousarray(grey)), Image.fromarray(dots[..., -1].copy()), notes=notes)


def _by_profile(image: Image.Image, profile: bytes) -> Image.Image | None:
    """``image`` from the colour space of ``profile`` to sRGB; None where that is the same."""
    if not features.check("littlecms2"):
        raise ValueError("this Pillow cannot read profiles")
    source = ImageCms.ImageCmsProfile(io.BytesIO(profile))
    space = str(source.profile.xcolor_space).strip()
    modes = _SPACES.get(space, ())
    if image.mode not in modes:
        raise ValueError(f"it is for {space}, the picture is {image.mode}")
    if modes[0] == "RGB" and _is_srgb(source):
        return None
    return _transformed(image.convert(modes[0]), source)


def _is_srgb(source: ImageCms.ImageCmsProfile) -> bool:
    """Whether a profile for RGB leaves colours where they are: tried with nine levels of each channel."""
    levels = np.linspace(0, 255, 9).round().astype(np.uint8)
    tried = np.stack(np.meshgrid(levels, levels, levels), axis=-1).reshape(1, -1, 3)
    moved = np.asarray(_transformed(Image.fromarray(tried), source)).astype(np.int64) - tried
    return bool(np.abs(moved).max() <= NEAR)


def _transformed(image: Image.Image, source: ImageCms.ImageCmsProfile) -> Image.Image:
    srgb = ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB"))
    intent = ImageCms.Intent(ImageCms.getDefaultIntent(source))
    transform = ImageCms.buildTransform(source, srgb, image.mode, "RGB", intent)
    converted = ImageCms.applyTransform(image, transform)
    assert converted is not None  # it would be only where the image itself were to be changed
    return converted

"""A page's plates as pictures for people: each alone, all together, under a UV lamp, and where the toner lies thickest.

Lives here: pixels.  Not here: measuring (`coverage`), files (`vdp.proof`).

Colours on a screen are an impression, not a proof of colour: the process plates are mixed by multiplying simple inks.
Under the lamp, what is not fluorescent is dimmed, a spot that glows shines in its own colour by its tint, and stock
with optical brightener shines bluish wherever no toner covers it (common practice, no source for the amounts).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np
import numpy.typing as npt

from vdp.verify.coverage import Tints

Pixels = npt.NDArray[np.uint8]
#: What solid inks leave of red, green and blue light: plain impressions of toner on a screen.
INKS: Mapping[str, tuple[float, float, float]] = {
    "Cyan": (0.0, 0.62, 0.88),
    "Magenta": (0.87, 0.0, 0.50),
    "Yellow": (1.0, 0.91, 0.0),
    "Black": (0.11, 0.11, 0.12),
}
#: Light that brightened stock gives back under the lamp, red, green and blue of 1.
BRIGHT = (0.24, 0.28, 0.70)
#: Colour steps of the heat picture: none, half of the limit, the limit, half as much again.
_HEAT = np.array([(250, 249, 246), (146, 186, 196), (226, 150, 40), (150, 12, 60)], np.float32)


@dataclass(frozen=True, slots=True)
class Lamp:
    """How a piece is looked at: `dim` is what is left of visible light (0 … 1), `bright` stock glows itself, `glow` the
    light of each spot at solid (red, green, blue of 1)."""

    dim: float = 0.16
    bright: bool = True
    glow: Mapping[str, tuple[float, float, float]] = field(default_factory=dict)


def plate_alone(tint: Tints) -> Pixels:
    """A plate in grey, black where it is solid."""
    return _bytes(1 - tint)


def printed(tints: Mapping[str, Tints], spots: Mapping[str, tuple[float, float, float]] | None = None) -> Pixels:
    """The process plates together on white paper, and over them `spots`: what of red, green and blue light (of 1)
    their solids leave on a screen."""
    return _bytes(_light(tints, {**INKS, **(spots or {})}))


def under_lamp(tints: Mapping[str, Tints], lamp: Lamp) -> Pixels:
    """The piece under a UV lamp in the dark."""
    light = _light(tints, INKS) * np.float32(lamp.dim)
    if lamp.bright:
        bare = np.ones(next(iter(tints.values())).shape, np.float32)
        for tint in tints.values():
            bare *= 1 - tint
        light += bare[..., None] * np.array(BRIGHT, np.float32)
    for spot, glow in lamp.glow.items():
        if spot in tints:
            # What shines on top hides what lies under it, as far as it covers.
            tint = tints[spot][..., None]
            light = light * (1 - tint) + np.maximum(light, np.array(glow, np.float32)) * tint
    return _bytes(light)


def heat(total: Tints, limit: float) -> Pixels:
    """Total coverage (1 is one solid plate) from pale to dark red; `limit` in percent is amber."""
    steps = np.clip(total * 100 / limit * 2, 0, 3).astype(np.float32)
    low = np.minimum(steps.astype(np.intp), 2)
    part = (steps - low)[..., None]
    mixed = _HEAT[low] * (1 - part) + _HEAT[low + 1] * part
    found: Pixels = np.rint(mixed).astype(np.uint8)
    return found


def _light(tints: Mapping[str, Tints], inks: Mapping[str, tuple[float, float, float]]) -> npt.NDArray[np.float32]:
    """What the plates that have inks leave of red, green and blue."""
    shape = next(iter(tints.values())).shape
    light = np.ones((3, *shape), np.float32)  # a colour after the other: three times as fast
    for plate, left in inks.items():
        if plate in tints and tints[plate].any():
            for at, share in enumerate(left):
                if share < 1:
                    light[at] *= 1 - tints[plate] * np.float32(1 - share)
    return np.moveaxis(light, 0, -1)


def _bytes(light: npt.NDArray[np.float32]) -> Pixels:
    return np.rint(np.clip(light, 0, 1) * 255).astype(np.uint8)

"""Paper by the roll, and time: length, weight, g/m² from pounds, what a run uses.

Lives here: arithmetic of paper.  Not here: which piece falls on which roll (`order`).

Lengths are in points unless a name says otherwise; weights in grams a square metre and kilograms.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from math import ceil, floor, inf, isfinite, pi, sqrt
from typing import Literal

from vdp.errors import CallerError, Fault
from vdp.units import POINTS_PER_INCH, mm

Basis = Literal["text", "bond", "cover", "index", "tag"]

#: Inches of the basic sheet whose ream of 500 weighs the stated pounds (STANDARDS §5).
BASIC_SIZES: dict[Basis, tuple[float, float]] = {
    "bond": (17, 22),
    "cover": (20, 26),
    "index": (25.5, 30.5),
    "tag": (24, 36),
    "text": (25, 38),
}
#: Kilograms in a pound, exactly (international avoirdupois).
KG_PER_POUND = 0.45359237
_SQUARE_METRES_PER_SQUARE_INCH = 0.0254**2
_REAM = 500


def metres(length: float) -> float:
    return mm(length) / 1000


def feet(length: float) -> float:
    return length / POINTS_PER_INCH / 12


def gsm(pounds: float, basis: Basis) -> float:
    """Basis weight in pounds of the basic size → g/m².  Raises CallerError for an unknown basic size."""
    if basis not in BASIC_SIZES:
        raise CallerError.one("stock", f"'{basis}' is no basic size: {', '.join(BASIC_SIZES)}")
    across, along = BASIC_SIZES[basis]
    return pounds * KG_PER_POUND * 1000 / (_REAM * across * along * _SQUARE_METRES_PER_SQUARE_INCH)


def roll_length(diameter: float, core: float, caliper: float) -> float:
    """Paper on a roll: the area of its end face divided by the thickness.  One unit for all."""
    return pi * (diameter**2 - core**2) / (4 * caliper)


def roll_diameter(length: float, core: float, caliper: float) -> float:
    """The inverse of `roll_length`."""
    return sqrt(core**2 + 4 * caliper * length / pi)


def paper_weight(length: float, width: float, grams: float) -> float:
    """Kilograms of a web, without core."""
    return metres(length) * metres(width) * grams / 1000


def pages_a_minute(feet_a_minute: float, frame: float, across: int, sides: int) -> float:
    """Pages that leave the press each minute; `frame` in points, one page along it."""
    return feet_a_minute * 12 * POINTS_PER_INCH / frame * across * sides


@dataclass(frozen=True, slots=True)
class Paper:
    """The stock: web `width`, `caliper`, `grams` a square metre; the roll as delivered: `diameter`, `core`."""

    width: float
    caliper: float
    grams: float
    diameter: float
    core: float

    @property
    def roll(self) -> float:
        """Length of a delivered roll."""
        return roll_length(self.diameter, self.core, self.caliper)


@dataclass(frozen=True, slots=True)
class RollLimits:
    """What a printed roll may be; None = no limit.  `leader` and `trailer` are blank or specimen web on each roll.

    `length`, `diameter`, `leader`, `trailer` in points; `weight` in kilograms without core; `core` of the printed roll.
    """

    core: float
    length: float | None = None
    diameter: float | None = None
    weight: float | None = None
    leader: float = 0.0
    trailer: float = 0.0


def frames_a_roll(limits: RollLimits, paper: Paper | None, frame: float, where: str) -> int | None:
    """The most frames a printed roll may hold under every limit, None where there is none.

    Without a paper there is no limit of diameter or weight.  Raises CallerError, with the figures, when not one frame
    goes on it.
    """
    allowed = [inf if limits.length is None else limits.length]
    if limits.diameter is not None and paper is not None:
        allowed.append(roll_length(limits.diameter, limits.core, paper.caliper))
    if limits.weight is not None and paper is not None:
        allowed.append(limits.weight / paper_weight(1.0, paper.width, paper.grams))
    most = min(allowed)
    if not isfinite(most):
        return None
    ends = limits.leader + limits.trailer
    frames = floor((most - ends) / frame * (1 + 1e-12))  # a limit stated as so many frames must give so many
    if frames < 1:
        raise CallerError.one(
            where,
            f"a roll may hold {metres(most):.2f} m of paper; leader and trailer take {metres(ends):.2f} m, "
            f"and a frame {metres(frame):.3f} m",
            "allow a larger roll",
        )
    return frames


@dataclass(frozen=True, slots=True)
class Usage:
    """What a run uses.  `length` is all web that runs, leaders, trailers and make-ready included; points.

    `delivered` are the rolls of paper taken off the store, `splices` the changes from one to the next within a printed
    roll at most, `minutes` the time that `length` takes; `square_metres` all of it, `plates` printed area a plate.
    """

    frames: int
    rolls: int
    length: float
    delivered: int
    splices: int
    minutes: float
    kilograms: float
    square_metres: float
    plates: Mapping[str, float]


def usage(
    frames: int,
    rolls: int,
    frame: float,
    paper: Paper,
    metres_a_minute: float,
    where: str,
    *,
    ends: float = 0.0,
    make_ready: float = 0.0,
    shares: Mapping[str, float] | None = None,
) -> Usage:
    """What `frames` frames of `frame` points on `rolls` printed rolls use.

    `ends`: leader and trailer of one roll together.  `make_ready`: web run before the first good frame.  `shares`:
    plate → covered share (0..1) of the frame; plate areas are in square metres over all frames.
    Raises CallerError with every figure that cannot be.
    """
    covered = dict(shares or {})
    faults = [Fault(where, message) for message in _out_of_reason(frames, rolls, frame, paper, metres_a_minute)]
    faults += [
        Fault(where, f"plate {name} covers {share:g} of the frame")
        for name, share in covered.items()
        if not 0 <= share <= 1
    ]
    if faults:
        raise CallerError(faults)
    length = frames * frame + rolls * ends + make_ready
    delivered = ceil(length / paper.roll)
    good = metres(frames * frame) * metres(paper.width)
    return Usage(
        frames=frames,
        rolls=rolls,
        length=length,
        delivered=delivered,
        splices=max(0, delivered - 1),
        minutes=metres(length) / metres_a_minute,
        kilograms=paper_weight(length, paper.width, paper.grams),
        square_metres=metres(length) * metres(paper.width),
        plates={name: share * good for name, share in covered.items()},
    )


def roll_warnings(limits: RollLimits, paper: Paper | None, frames: int, frame: float) -> list[str]:
    """What the biggest printed roll, of `frames` frames, exceeds: sentences with the figures, none when all is well."""
    length = frames * frame + limits.leader + limits.trailer
    warnings = []
    if limits.length is not None and length > limits.length * (1 + 1e-12):
        warnings.append(f"a roll is {metres(length):.1f} m long, and may be {metres(limits.length):.1f} m")
    if paper is None:
        return warnings
    diameter = roll_diameter(length, limits.core, paper.caliper)
    if limits.diameter is not None and diameter > limits.diameter * (1 + 1e-12):
        warnings.append(f"a roll is {mm(diameter):.0f} mm across, and may be {mm(limits.diameter):.0f} mm")
    weight = paper_weight(length, paper.width, paper.grams)
    if limits.weight is not None and weight > limits.weight * (1 + 1e-12):
        warnings.append(f"a roll weighs {weight:.1f} kg without core, and may weigh {limits.weight:.1f} kg")
    return warnings


def _out_of_reason(frames: int, rolls: int, frame: float, paper: Paper, speed: float) -> Iterator[str]:
    figures = {
        "frames": frames,
        "rolls": rolls,
        "the frame's length": frame,
        "the paper's width": paper.width,
        "its caliper": paper.caliper,
        "its weight": paper.grams,
        "the speed": speed,
    }
    yield from (f"{name} must be more than 0, not {figure:g}" for name, figure in figures.items() if not figure > 0)
    if not 0 <= paper.core < paper.diameter:
        yield f"a roll of {mm(paper.diameter):.0f} mm with a core of {mm(paper.core):.0f} mm holds no paper"

"""The artwork of a job and the pictures of its records, judged before anything is composed.

Not here: the rules (`vdp.verify.preflight`).
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path

from vdp.errors import CallerError, Finding
from vdp.job.items import ArtItem
from vdp.job.load import Job
from vdp.job.postscript import as_pdf
from vdp.pdf.art import is_pdf
from vdp.pdf.colouring import colouring_of, read_profile
from vdp.plan.build import Plan
from vdp.plan.steps import ImageStep
from vdp.run.folder import put
from vdp.units import mm
from vdp.verify.preflight.artwork import judge_artwork, picture_of
from vdp.verify.preflight.concern import CAUTIONS, Concern, Limits, Wanted

SIDES = ("front", "back")


@dataclass(slots=True)
class Artwork:
    """What was found: `findings` make the artwork unusable, `warnings` do not."""

    findings: list[Finding] = field(default_factory=list)
    warnings: list[Finding] = field(default_factory=list)


def judge_art(plan: Plan, pictures: Path | None = None) -> Artwork:
    """Judges every PDF page that the layout places, and every picture of the records at its size.

    `pictures` is a folder for a PNG of each place.  Raises CallerError when it cannot be written, and for a press
    profile that is none.
    """
    job, found = plan.job, Artwork()
    if (profile := colouring_of(job).profile) is not None:
        read_profile(profile)
    if pictures is not None:
        _prepare(pictures)
    number = 0
    for path, pages in _files(job).items():
        shown = as_pdf(path)
        for concern in judge_artwork(shown, pages):
            number += 1
            message = concern.message
            if pictures is not None and (png := picture_of(shown, max(1, concern.page), concern.area)) is not None:
                name = f"art-{number:02d}-{concern.code}.png"
                put(pictures / name, png)
                message += f" (see {name})"
            _take(job, found, Finding(concern.code, _where(job, path, concern), message))
    for finding in _record_pictures(plan):
        _take(job, found, finding)
    return found


def _take(job: Job, found: Artwork, finding: Finding) -> None:
    lenient = finding.code in CAUTIONS or finding.code in job.model.artwork.accept
    (found.warnings if lenient else found.findings).append(finding)


def _files(job: Job) -> dict[Path, list[tuple[int, Wanted]]]:
    """Every PDF of the layout with the pages used, each once, and what they must suit."""
    rules = job.model.artwork
    limits = Limits(
        rules.ppi_least,
        rules.ppi_good,
        rules.line_dots,
        job.model.toner.limit,
        rgb_converted=job.model.colour.rgb == "convert",
    )
    used: dict[Path, dict[int, Wanted]] = {}
    for side in SIDES:
        for index, item in enumerate(getattr(job.layout, side)):
            if not isinstance(item, ArtItem):
                continue
            path = job.file(item.art, job.where("layout", side, index, "art"))
            if is_pdf(path):
                bleed = job.layout.bleed if item.box is None else None
                spots = tuple(job.model.spots)
                used.setdefault(path, {}).setdefault(item.page, Wanted(spots, job.model.resolution, bleed, limits))
    return {path: sorted(pages.items(), key=lambda page: page[0]) for path, pages in used.items()}


def _name(job: Job, path: Path) -> str:
    return path.relative_to(job.folder).as_posix() if path.is_relative_to(job.folder) else path.name


def _where(job: Job, path: Path, concern: Concern) -> str:
    name = _name(job, path)
    if not concern.page:
        return name
    where = f"{name}, page {concern.page}"
    if concern.area is None:
        return where
    left, bottom, right, top = (mm(edge) for edge in concern.area)
    return f"{where}, {left:.1f} … {right:.1f} mm from the left, {bottom:.1f} … {top:.1f} mm from the bottom"


def _record_pictures(plan: Plan) -> Iterator[Finding]:
    """Pictures that records name, at the smallest size any of the layout's boxes gives them."""
    steps = [step for step in plan.steps() if isinstance(step, ImageStep)]
    rules = plan.job.model.artwork
    if not steps:
        return
    for path, (width, height) in sorted(plan.pictures.items()):
        ppi = max(_ppi(step, width, height, plan.page.dpi) for step in steps)
        where = _name(plan.job, path)
        names = " or ".join(step.name for step in steps)
        if ppi < rules.ppi_least:
            message = f"has {ppi:.0f} pixels an inch in {names}; {rules.ppi_least:.0f} is the least"
            yield Finding("art-picture-coarse", where, message)
        elif ppi < rules.ppi_good:
            message = f"has {ppi:.0f} pixels an inch in {names}; {rules.ppi_good:.0f} looks sharp"
            yield Finding("art-picture-soft", where, message)


def _ppi(step: ImageStep, width: int, height: int, dpi: int) -> float:
    _, _, across, down = step.box
    if step.turn in (90, 270):
        across, down = down, across
    ratios = (width / across, height / down)
    return dpi * (min(ratios) if step.fit == "fill" else max(ratios))


def _prepare(folder: Path) -> None:
    try:
        folder.mkdir(parents=True, exist_ok=True)
        for old in folder.glob("art-*.png"):
            old.unlink()
    except OSError as error:
        raise CallerError.one(str(folder), f"cannot be written: {error.strerror}", "name another folder") from error

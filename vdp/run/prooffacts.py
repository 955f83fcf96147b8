"""What the cover of a numbering proof says: numbers, checks, quantity, languages, plates, lanes, stacks, files.

Words only.  Not here: the document (`vdp.proof.document`), the pieces (`numberproof`).
"""

from __future__ import annotations

from collections.abc import Iterator

from vdp import __version__
from vdp.compose.piece import Accepted
from vdp.job.load import Job
from vdp.numbering.series import Series
from vdp.numbering.shape import Shape
from vdp.plan.numbering import affixes_of
from vdp.proof.basis import SHORT
from vdp.proof.checkwords import worked
from vdp.proof.loupe import ACROSS_MM
from vdp.run.expected import Expected
from vdp.run.web import Laid
from vdp.units import mm, points

Fact = tuple[str, tuple[str, ...]]


def facts_of(expected: Expected, first: Accepted, shown: int) -> Iterator[Fact]:
    """The cover's facts; `first` is the first piece's record, `shown` how many pieces the proof has."""
    opened, intake = expected.opened, expected.intake
    job = opened.job
    for name, series in opened.series.items():
        label = "Numbers" if len(opened.series) == 1 else f"Numbers, {name}"
        yield label, tuple(_numbers(expected, name, series))
        yield "Check", tuple(_check(job, name, series, first))
    if not opened.series:
        yield "Numbers", ("This job has no series: its pieces carry no number of ours.",)
    refused = len(intake.refused)
    yield "Quantity", (f"{_many(intake.records, 'record')} = {_many(intake.pieces, 'piece')} + {refused:,} set aside",)
    if job.model.records.language is not None:
        counts = sorted(intake.languages.items(), key=lambda each: (-each[1], each[0]))
        yield "Languages", (", ".join(f"{language or '(none)'} {count:,}" for language, count in counts),)
    page, trim = intake.plan.page, job.layout.trim
    size = f"{mm(trim[0]):g} × {mm(trim[1]):g} mm, {page.trim[2]:,} × {page.trim[3]:,} dots at {page.dpi} an inch"
    yield "Piece", (size,)
    spots = [f"{name} ({'not seen in daylight' if spot.hidden else 'seen'})" for name, spot in job.model.spots.items()]
    yield "Plates", (", ".join(("Cyan", "Magenta", "Yellow", "Black", *spots)),)
    if expected.laid is not None:
        yield from _web(job, expected.laid)
    yield "Made from", tuple(_files(expected))
    circles = f"circles show {ACROSS_MM:g} mm of a plate, each square a dot of {page.dpi} an inch"
    how = f"{_many(shown, 'piece')}, composed by vdp {__version__}; codes are read off their own plates; {circles}"
    yield "This proof", (how,)


def _numbers(expected: Expected, name: str, series: Series) -> Iterator[str]:
    intake = expected.intake
    first, last = (serials.get(name, "") for serials in intake.ends)
    yield f"{first} is the first piece's, {last} the last one's: {intake.pieces:,} numbers"
    said = []
    if name in intake.numbers.columns:
        said.append(f"they stand in the records, field '{expected.opened.job.model.series[name].column}'")
    elif series.shuffled:
        said.append("shuffled: the order cannot be guessed")
    else:
        said.append(f"counted in steps of {series.step}" if series.step != 1 else "counted one by one")
    if series.varying or series.varying_suffix:
        said.append("with a part that comes from each record")
    if series.code:
        said.append(f"with an authenticity code of {series.code} characters")
    yield f"{'; '.join(said)}.".capitalize()


def _check(job: Job, name: str, series: Series, first: Accepted) -> Iterator[str]:
    """The scheme in words, and worked out for the first piece's number."""
    prefix, suffix = (
        template.render(job.context(first.values, {}, first.row)) if template is not None else fixed
        for template, fixed in zip(affixes_of(job, name), (series.prefix, series.suffix), strict=True)
    )
    serial, shape = first.serials[name], Shape.of(series)
    body = shape.joined(serial[len(prefix) : len(serial) - len(suffix)], series.separator) or ""
    text = shape.checked(prefix) + body[: series.width]
    told = worked(series.check, text)
    yield told.words
    if told.steps:
        yield f"For {serial} the text {text} is checked: {told.steps}."


def _web(job: Job, laid: Laid) -> Iterator[Fact]:
    order, web = laid.run, laid.plan.web
    width, frame = (mm(points(each, job.model.resolution)) for each in (web.width, web.frame))
    yield (
        "Lanes",
        (
            (
                f"{order.lanes} lanes × {order.along} along a frame of {frame:.2f} mm on a web of {width:g} mm: "
                f"{_many(order.frames, 'frame')} on {_many(order.rolls, 'roll')}, {_many(order.blanks, 'blank place')}"
            ),
        ),
    )
    how = {
        "across": "numbers run across each frame in turn",
        "lanes": "each lane holds the next part of the whole run",
        "blocks": f"blocks of {order.height:,} frames, {order.blocks:,} in all; in a block each stack is consecutive",
    }[order.kind]
    a_block = order.lanes * (order.along if order.stack == "place" else 1)
    each = "place of the frame" if order.stack == "place" else "lane"
    came = "the last printed frame comes off first" if order.rewound else "frames come off as printed"
    yield "Stacks", (f"{how.capitalize()}.", f"A stack for each {each}, {a_block} at a time; {came}.")


def _many(count: int, thing: str) -> str:
    return f"{count:,} {thing}{'' if count == 1 else 's'}"


def _files(expected: Expected) -> Iterator[str]:
    basis = expected.basis
    yield (
        "; ".join(f"{basis[part]['name']} {basis[part]['sha256'][:SHORT]}…" for part in ("job", "layout", "records"))
        + " (SHA-256)"
    )
    counted = (("art", "artwork file"), ("images", "picture"), ("faces", "face"))
    yield "; ".join(_many(len(basis[part]), thing) for part, thing in counted if basis[part]) + ", each by its own hash"

"""A barcode of the layout → its step: X-dimension in whole dots, quiet zone, form, and what is wrong with its size.

Not here: sizes that depend on records (`symbols`), neighbours, encoders.
"""

from __future__ import annotations

import difflib
from collections.abc import Callable

from vdp.barcode.carriers import Form
from vdp.barcode.digital_link import stem_ok
from vdp.barcode.least import USUAL_GROWTH, least_dots
from vdp.barcode.micro_qr import LEVELS as MICRO_LEVELS
from vdp.barcode.sizes import HEIGHT_SLACK_MM, SIZES, STATES, Size, snap
from vdp.barcode.symbology import SYMBOLOGIES
from vdp.errors import CallerError, Fault, Finding
from vdp.job.items import FOUR_STATE, LINEAR, BarcodeItem
from vdp.job.template import Condition, Template
from vdp.marks import StateDots
from vdp.plan.fixed import ink_of
from vdp.plan.page import Page
from vdp.plan.steps import SymbolStep
from vdp.units import dots, mm

#: Dots by which an X-dimension may miss the grid before that is told: lengths are written to a few decimals.
OFF_GRID = 0.02
#: Share of a module that a reduction must leave (own choice, no source).
LEFT = 0.5

Where = Callable[..., str]


def symbol_step(
    page: Page,
    name: str,
    when: Condition | None,
    item: BarcodeItem,
    template: Template,
    where: Where,
    faults: list[Fault],
    warnings: list[Finding],
) -> SymbolStep:
    """The step of an item; adds what is wrong with its size.  Raises CallerError when it has no size at all."""
    dpi, carrier = page.dpi, item.barcode.replace("-", "_")
    state: StateDots | None = None
    size = _size(name, item, carrier, where)
    if item.x is None:
        state, quiet = _state(carrier, dpi, name, where)
        module = 0
    else:
        module = _module(name, item, item.x, dpi, size, where, faults, warnings)
        left, bottom, right, top = (modules * module for modules in SYMBOLOGIES[item.barcode].quiet)
        quiet = (left, bottom, right, top)
    if item.reads_as == "light" and (item.barcode in LINEAR | FOUR_STATE or item.barcode == "pdf417"):
        message = f"{name}: few readers of {item.barcode} read light bars on a dark ground; a matrix code is safer"
        warnings.append(Finding("linear-light", where("reads_as"), message))
    room = None if item.room is None else (dots(item.room[0], dpi), dots(item.room[1], dpi))
    if room is not None and item.turn in (90, 270):
        room = (room[1], room[0])
    return SymbolStep(
        name=name,
        when=when,
        template=template,
        symbology=item.barcode,
        carrier=carrier,
        form=Form(
            _level(name, item, where, faults),
            item.security,
            item.columns,
            float(item.ratio),
            item.check,
            item.rectangle,
            item.densest,
            _link(name, item, where, faults),
        ),
        corner=page.point(*item.at),
        module=module,
        height=dots(item.height, dpi) if item.height is not None else 0,
        quiet=quiet,
        state=state,
        fixed=item.version,
        room=room,
        ink=ink_of(item),
        turn=item.turn,
        where=where(),
        asked=mm(item.x) if item.x is not None else 0.0,
        reduction=item.reduce,
        longest=int(size.longest_mm * dpi / 25.4) if size is not None else 0,
    )


def _level(name: str, item: BarcodeItem, where: Where, faults: list[Fault]) -> str:
    """The level of error correction; a Micro QR Code M1 has none, and none has them all."""
    if item.barcode != "micro-qr":
        return item.level
    if item.version == 1:
        return ""
    if item.version is not None and item.version > len(MICRO_LEVELS):
        said = f"{name}: a Micro QR Code has version 1 to {len(MICRO_LEVELS)}, not {item.version}"
        faults.append(Fault(where("version"), said, "for more data take a qr"))
        return item.level
    known = MICRO_LEVELS["M4" if item.version is None else f"M{item.version}"]
    if item.level not in known:
        which = "no Micro QR Code" if item.version is None else f"no Micro QR Code M{item.version}"
        faults.append(Fault(where("level"), f"{name}: {which} has level {item.level}", f"use {' or '.join(known)}"))
    return item.level


def _link(name: str, item: BarcodeItem, where: Where, faults: list[Fault]) -> str:
    if item.link is None:
        return ""
    stem = item.link.removesuffix("/")
    if not stem_ok(stem):
        said = f"{name}: '{item.link}' is no address for a Digital Link"
        faults.append(Fault(where("link"), said, "write https://domain or https://domain/path"))
    return stem


def _state(carrier: str, dpi: int, name: str, where: Where) -> tuple[StateDots, tuple[int, int, int, int]]:
    """Bars and clear zone of a four-state code."""
    try:
        return STATES[carrier].dots(dpi), STATES[carrier].clear_dots(dpi)
    except ValueError as error:
        raise CallerError([Fault(where("barcode"), f"{name}: {error}", "use a higher resolution")]) from error


def _size(name: str, item: BarcodeItem, carrier: str, where: Where) -> Size | None:
    """The range of the stated use."""
    if item.use is None:
        return None
    uses = {use: size for (symbology, use), size in SIZES.items() if symbology == carrier}
    if item.use not in uses:
        known = ", ".join(sorted(uses)) or "none"
        said = f"{name}: no range is known for {item.barcode} in '{item.use}' (known: {known})"
        close = difflib.get_close_matches(item.use, uses, 1, 0.6)
        raise CallerError([Fault(where("use"), said, f"did you mean '{close[0]}'?" if close else "")])
    return uses[item.use]


def _module(
    name: str,
    item: BarcodeItem,
    x: float,
    dpi: int,
    size: Size | None,
    where: Where,
    faults: list[Fault],
    warnings: list[Finding],
) -> int:
    """X in whole dots, within the range of its use where one is stated."""
    module = dots(x, dpi)
    if size is not None:
        try:
            snapped = snap(mm(x), dpi, size)
        except ValueError as error:
            raise CallerError([Fault(where("x"), f"{name}: {error}", f"clause: {size.source}")]) from error
        module = snapped.dots
        due = size.least_height_mm(snapped.printed_mm)
        if item.height is not None and mm(item.height) < due - HEIGHT_SLACK_MM:
            said = f"{name}: bars of {mm(item.height):.2f} mm; {due:.2f} mm is the least in {item.use} at this X"
            warnings.append(Finding("bars-low", where("height"), said))
    size_said = f"{name}: an X-dimension of {mm(x):.3f} mm is {module} dots at {dpi} dpi"
    taken = max(item.reduce)
    if taken and module - taken < max(1, LEFT * module):
        said = f"{name}: 'reduce' takes {taken} of the {module} dots of a module"
        faults.append(Fault(where("reduce"), said, f"at most {int(module * (1 - LEFT))} may go: leave half of it"))
    # What is taken off either edge meets the growth that the press adds to it.
    growth = max((USUAL_GROWTH - one / 2 for one in item.reduce[: 1 if item.barcode in LINEAR else 2]), key=abs)
    never, least = least_dots(item.barcode, dpi, 0), least_dots(item.barcode, dpi, growth)
    if module < never:
        said = f"{size_said}; {item.barcode} under {never} dots fails even without toner growth"
        faults.append(Fault(where("x"), said, f"use {least * 25.4 / dpi:.3f} mm or more"))
    elif module < least:
        said = f"{item.barcode} needs {least} dots ({least * 25.4 / dpi:.3f} mm) to come through a simulated print"
        met = f", less {taken / 2:g} by 'reduce'" if taken else ""
        more = f"with toner growth of {USUAL_GROWTH:g} dot an edge{met}: print a test, or make it larger"
        warnings.append(Finding("symbol-small", where("x"), f"{size_said}; {said} {more}"))
    if abs(x * dpi / 72 - module) > OFF_GRID:
        printed = f"{module} dots, {module * 25.4 / dpi:.4f} mm"
        message = f"{name}: an X-dimension of {mm(x):.4f} mm is {x * dpi / 72:.2f} dots; {printed} is printed"
        warnings.append(Finding("module-rounded", where("x"), message))
    return module

"""The screens of a finished run: what it came to, its pieces, its codes, the rows set aside, its findings.

Lives here: what is shown on each.  Not here: the web (`webbing`), what only auditors see (`auditing`).
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import Any, NamedTuple

from starlette.datastructures import QueryParams
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response

from vdp.errors import CallerError
from vdp.page.codes import hear
from vdp.page.easel import GLASS, Look
from vdp.page.entering import form_of, house_of, inside, wants_part, word
from vdp.page.found import SIDES, Spot, findings_of
from vdp.page.house import House
from vdp.page.opened import Run, Slot
from vdp.verify.doubt import Unreadable
from vdp.verify.manifest import PieceLine

#: Pieces on a sheet of the list, rows set aside and findings on one screen, and hits of a search.
ON_LIST, ON_SCREEN, MOST_HITS = 12, 100, 60
#: Pixels across: on the screen of a piece, in a list.
WIDE, SMALL = 1100, 420


class Hit(NamedTuple):
    """A piece that a search found: what it is, and why it was found."""

    piece: int
    row: int
    serials: str
    why: str


@inside
async def home(request: Request) -> Response:
    """All runs of the page, each with what it came to."""
    house = house_of(request)
    runs = [(slot, await slot.run()) for slot in house.slots]
    told = {"runs": [(slot, run, _facts(run) if run is not None else ()) for slot, run in runs], "here": "home"}
    return house.show(request, "home.html", told | {"auditing": house.auditing})


def _facts(run: Run) -> tuple[tuple[str, str], ...]:
    told = run.shelf.told
    languages = ", ".join(f"{language or 'not told'} {count:,}" for language, count in told["languages"].items())
    return (
        ("Records", f"{told['records']:,} = {told['pieces']:,} pieces + {told['set_aside']:,} set aside"),
        ("Codes", f"{told['symbols_decoded']:,} of {told['symbols_expected']:,} read on their own plate"),
        ("Serials", f"{told['serials']:,}, {told['serials_unique']:,} of them different"),
        ("Languages", languages),
        ("Plates", ", ".join(run.shelf.plates)),
        ("Dots an inch", str(run.shelf.report.resolution)),
    )


# -- pieces -----------------------------------------------------------------------------------------------------------


@inside
async def pieces(request: Request) -> Response:
    """A sheet of small pictures, in the order of the file."""
    house = house_of(request)
    slot, run = await house.run(request)
    last = max(1, -(-len(run.shelf) // ON_LIST))
    sheet = min(last, max(1, _whole(request.query_params.get("sheet"), 1)))
    shown = [run.shelf.line(nth) for nth in range((sheet - 1) * ON_LIST, min(len(run.shelf), sheet * ON_LIST))]
    told = {"slot": slot, "run": run, "lines": shown, "sheet": sheet, "last": last, "here": "pieces", "small": SMALL}
    return house.show(request, "pieces.html", told)


@inside
async def find(request: Request) -> Response:
    """Search by serial, name, row or number.  It goes by POST: what is sought is in no address and no log."""
    house = house_of(request)
    slot, run = await house.run(request)
    form = await form_of(request)
    asked = word(form, "asked")
    hits, notes = await _hits(slot, run, asked)
    if len(hits) == 1 and not wants_part(request):
        return RedirectResponse(f"/run/{slot.number}/piece/{hits[0].piece}", 303)
    told = {"slot": slot, "run": run, "hits": hits, "notes": notes, "asked": asked, "here": "pieces"}
    return house.show(request, "hits.html" if wants_part(request) else "found.html", told)


async def _hits(slot: Slot, run: Run, asked: str) -> tuple[list[Hit], list[str]]:
    shelf, hits, notes = run.shelf, dict[int, Hit](), list[str]()

    def add(nth: int | None, why: str) -> None:
        if nth is not None and nth not in hits and len(hits) < MOST_HITS:
            line = shelf.line(nth)
            hits[nth] = Hit(line.piece, line.row, " ".join(line.serials.values()), why)

    for nth in shelf.with_serial(asked, MOST_HITS):
        add(nth, "serial")
    number = re.fullmatch(r"(?:(piece|row)\s*)?(\d{1,12})", asked.casefold())
    if number is not None:
        for kind, where in (("piece", shelf.nth_of), ("row", shelf.nth_of_row)):
            if number[1] in (None, kind):
                add(where(int(number[2])), f"{kind} {number[2]}")
    if asked and slot.job is not None:
        try:
            names = await slot.names()
            for row, value in names.find(asked, MOST_HITS):
                at = shelf.nth_of_row(row)
                if at is None:
                    notes.append(f"Row {row} ({value}) has no piece here: it was set aside, or is in another run.")
                add(at, value)
        except CallerError as error:
            notes.append(f"Names were not searched: {error.faults[0]}.")
    return list(hits.values()), notes


@inside
async def piece(request: Request) -> Response:
    """One piece: its picture with its codes to click, its plates, lamp and glass, and what is told of it."""
    house = house_of(request)
    slot, run = await house.run(request)
    nth, line = line_of(request, run)
    found = [told for told in findings_of(run) if told["piece"] == line.piece]
    chosen = next((told for told in found if str(told["number"]) == request.query_params.get("finding")), None)
    side = 1 if request.query_params.get("side") == "back" else 0
    look, plates = look_of(request.query_params, run), run.shelf.plates
    told = {
        "slot": slot,
        "run": run,
        "line": line,
        "side": SIDES[side],
        "look": look,
        "plates": [(at, plate, plate in look.plates) for at, plate in enumerate(plates)],
        "query": _query(look, run),
        "before": run.shelf.line(nth - 1).piece if nth else None,
        "after": run.shelf.line(nth + 1).piece if nth + 1 < len(run.shelf) else None,
        "first": run.shelf.line(0).piece,
        "final": run.shelf.line(len(run.shelf) - 1).piece,
        "findings": found,
        "chosen": chosen,
        "glass": GLASS,
        "here": "pieces",
        "pins": _pins(house, run, line.piece, SIDES[side]),
        **await _stage(run, nth, line, side, _asked(request, run, chosen)),
    }
    return house.show(request, "stage.html" if wants_part(request) else "piece.html", told)


def _pins(house: House, run: Run, piece: int, side: str) -> list[tuple[int, int, str]]:
    """Comments on a side that are not signed yet: their place in dots, and their words."""
    dots = run.shelf.report.resolution / 25.4
    pins = house.signing.pins if house.signing is not None else []
    return [
        (round(pin.at[0] * dots), round(pin.at[1] * dots), pin.words)
        for pin in pins
        if (pin.piece, pin.side) == (piece, side) and pin.at is not None
    ]


def _asked(request: Request, run: Run, chosen: Mapping[str, Any] | None) -> Spot | None:
    """The place that is shown at once: what a finding names, or `x` and `y` in dots."""
    if chosen is not None:
        spot: Spot | None = chosen["spot"]
        return spot
    x, y = (_whole(request.query_params.get(axis), -1) for axis in ("x", "y"))
    if min(x, y) < 0:
        return None
    dot = 72 / run.shelf.report.resolution
    box = ((x - GLASS // 2) * dot, (y - GLASS // 2) * dot, GLASS * dot, GLASS * dot)
    return Spot("", box, paged=False, name="the place")


async def _stage(run: Run, nth: int, line: PieceLine, side: int, spot: Spot | None) -> dict[str, Any]:
    """Measures of the picture in dots, where its codes lie on it, and what is outlined: a place and its name."""
    try:
        trim = await run.easel.trim(2 * nth + side)
    except Unreadable as doubt:
        return {"size": (1, 1), "codes": [], "doubt": str(doubt), "spot": None, "at": (0, 0)}
    dot = run.shelf.report.resolution / 72
    size = (round((trim[2] - trim[0]) * dot), round((trim[3] - trim[1]) * dot))
    codes = []
    for number, symbol in enumerate(line.symbols):
        if (symbol.page - 1) % 2 == side:
            x0, y0, x1, y1 = symbol.box
            box = ((x0 - trim[0]) * dot, (trim[3] - y1) * dot, (x1 - x0) * dot, (y1 - y0) * dot)
            codes.append((number, symbol, tuple(round(edge) for edge in box)))
    told: dict[str, Any] = {"size": size, "codes": codes, "doubt": "", "spot": None}
    at = ((size[0] + 1) // 2, (size[1] + 1) // 2)
    if spot is not None and spot.side in ("", SIDES[side]):
        x, y, wide, high = spot.in_dots(trim, run.shelf.report.resolution)
        told["spot"] = (x, y, wide, high, spot.name)
        at = (min(size[0], max(0, x + wide // 2)), min(size[1], max(0, y + high // 2)))
    return told | {"at": at}


@inside
async def picture(request: Request) -> Response:
    """The picture of a side as a PNG."""
    _, run = await house_of(request).run(request)
    nth, _ = line_of(request, run)
    wide = min(WIDE, max(60, _whole(request.query_params.get("wide"), WIDE)))
    return await _png(run.easel.picture(2 * nth + side_of(request), look_of(request.query_params, run), wide))


@inside
async def dots(request: Request) -> Response:
    """What lies under the glass: dots of the press around a place."""
    _, run = await house_of(request).run(request)
    nth, _ = line_of(request, run)
    x, y = (min(200_000, max(0, _whole(request.query_params.get(axis), 0))) for axis in ("x", "y"))
    return await _png(run.easel.dots(2 * nth + side_of(request), look_of(request.query_params, run), (x, y)))


async def _png(made: Any) -> Response:
    try:
        return Response(await made, media_type="image/png")
    except Unreadable as doubt:
        raise HTTPException(422, f"This page cannot be drawn: {doubt}.") from doubt


@inside
async def code(request: Request) -> Response:
    """What a code says, read again from the dots of its plate at this moment."""
    house = house_of(request)
    slot, run = await house.run(request)
    nth, line = line_of(request, run)
    at = int(request.path_params["code"])
    if at >= len(line.symbols):
        raise HTTPException(404, "This piece has no such code.")
    symbol = line.symbols[at]
    side = (symbol.page - 1) % 2
    try:
        shown = await run.easel.plate(2 * nth + side, symbol.plate, symbol.box)
        heard = hear(symbol, shown, run.shelf.report.grading, nth + 1)
    except Unreadable as doubt:
        raise HTTPException(422, f"This code cannot be read: {doubt}.") from doubt
    told = {"slot": slot, "run": run, "line": line, "symbol": symbol, "heard": heard, "side": SIDES[side]}
    whole = not wants_part(request)
    return house.show(request, "heard_whole.html" if whole else "heard.html", told | {"here": "pieces"})


# -- lists ------------------------------------------------------------------------------------------------------------


@inside
async def set_aside(request: Request) -> Response:
    """The rows that were set aside, with their reasons."""
    house = house_of(request)
    slot, run = await house.run(request)
    rows = run.shelf.set_aside()
    told = {"slot": slot, "run": run, "here": "aside", **_cut(request, rows)}
    return house.show(request, "aside.html", told)


@inside
async def findings(request: Request) -> Response:
    """Findings and warnings, each with a way to what it is about."""
    house = house_of(request)
    slot, run = await house.run(request)
    told = {"slot": slot, "run": run, "here": "findings", **_cut(request, findings_of(run))}
    return house.show(request, "findings.html", told)


def _cut(request: Request, rows: list[Any]) -> dict[str, Any]:
    last = max(1, -(-len(rows) // ON_SCREEN))
    sheet = min(last, max(1, _whole(request.query_params.get("sheet"), 1)))
    return {"rows": rows[(sheet - 1) * ON_SCREEN : sheet * ON_SCREEN], "all": len(rows), "sheet": sheet, "last": last}


# -- what addresses say -----------------------------------------------------------------------------------------------


def line_of(request: Request, run: Run) -> tuple[int, PieceLine]:
    """The piece that the path names, and its place in the file.  Raises HTTPException."""
    nth = run.shelf.nth_of(int(request.path_params["piece"]))
    if nth is None:
        raise HTTPException(404, "This run has no such piece.")
    return nth, run.shelf.line(nth)


def side_of(request: Request) -> int:
    """0 for the front, 1 for the back.  Raises HTTPException."""
    side = str(request.path_params["side"])
    if side not in SIDES:
        raise HTTPException(404, "A piece has a front and a back.")
    return SIDES.index(side)


def look_of(query: QueryParams, run: Run) -> Look:
    """`p` names plates that are on by their place in the order of the press; all are on where none is named and `off`
    is not said."""
    plates = run.shelf.plates
    named = {_whole(text, -1) for text in query.getlist("p")}
    on = tuple(plate for at, plate in enumerate(plates) if at in named)
    return Look(on if on or "off" in query else plates, query.get("lamp") == "1")


def _query(look: Look, run: Run) -> str:
    """A look as addresses say it."""
    said = [f"p={at}" for at, plate in enumerate(run.shelf.plates) if plate in look.plates] or ["off=1"]
    return "&".join([*said, *(("lamp=1",) if look.lamp else ())])


def _whole(text: str | None, default: int) -> int:
    return int(text) if text is not None and re.fullmatch(r"\d{1,9}", text) else default

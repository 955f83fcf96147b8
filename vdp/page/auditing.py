"""What only auditors see: a serial looked up, its history and its proof; the account; what the audit found.  Read-only.

Lives here: the screens.  Not here: the judgement (`vdp.run.audit`), the ledger (`vdp.numbering`), pictures of codes
(`scan`).
"""

from __future__ import annotations

import asyncio
from collections.abc import Sequence
from typing import Any, NamedTuple

from starlette.datastructures import UploadFile
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response
from starlette.routing import Route

from vdp.audit.account import COPIES, NUMBERS, accounts
from vdp.audit.strict import written
from vdp.errors import CallerError, Finding
from vdp.numbering.entry import KINDS, Entry
from vdp.numbering.ledger import open_ledger
from vdp.page import scan
from vdp.page.entering import form_of, house_of, inside, word
from vdp.page.house import House
from vdp.page.opened import Run, Slot
from vdp.page.screens import MOST_HITS, line_of
from vdp.run.desk import desk_of
from vdp.run.sealing import prove
from vdp.verify.manifest import PieceLine


class Sums(NamedTuple):
    """What became of the numbers and the copies of a series in a run; totals first."""

    series: str
    run: str
    numbers: dict[str, int]
    copies: dict[str, int]
    unseen: int


class Match(NamedTuple):
    """A piece of one of the runs, and why it was found."""

    slot: Slot
    line: PieceLine
    why: str


@inside
async def look_up(request: Request) -> Response:
    """The form: a serial that is typed, or a picture of a code."""
    return house_of(request).show(request, "look_up.html", {"here": "look_up", "found": None})


@inside
async def look_up_serial(request: Request) -> Response:
    """A serial that was typed."""
    form = await form_of(request)
    return await _told(request, [word(form, "serial")])


@inside
async def read_picture(request: Request) -> Response:
    """A picture of a code that was sent; it is read and forgotten."""
    house = house_of(request)
    sent = (await form_of(request)).get("picture")
    if not isinstance(sent, UploadFile) or not sent.size:
        raise HTTPException(422, "Choose a picture of the code.")
    data = await sent.read()
    try:
        async with _READING:
            texts = await scan.read_picture(data)
    except scan.Unfit as unfit:
        house.say(f"refused: a picture, {unfit}")
        raise HTTPException(422, f"This is not read: {unfit}.") from unfit
    return await _told(request, texts, picture=True)


#: Pictures are read one after another: each may take a second of a processor.
_READING = asyncio.Semaphore(1)


async def _told(request: Request, texts: Sequence[str], *, picture: bool = False) -> Response:
    house = house_of(request)
    found: dict[tuple[int, int], Match] = {}
    for text in texts:
        for match in await _matches(house, text, exact=picture):
            found.setdefault((match.slot.number, match.line.piece), match)
    matches = list(found.values())
    if len(matches) == 1:
        return RedirectResponse(f"/run/{matches[0].slot.number}/history/{matches[0].line.piece}", 303)
    told = {"here": "look_up", "found": matches, "texts": texts, "picture": picture}
    return house.show(request, "look_up.html", told)


async def _matches(house: House, text: str, *, exact: bool) -> list[Match]:
    """Pieces that carry a code with the text, else that have it as their serial, else whose serial stands in it."""
    found: dict[tuple[int, int], Match] = {}
    for slot in house.slots:
        run = await slot.run()
        if run is None:
            continue
        shelf = run.shelf
        by_code = shelf.with_code(text, MOST_HITS)
        by_serial = shelf.with_serial(text, MOST_HITS)
        if exact and not by_code:
            parts = [part for part in text.replace("\x1d", " ").replace("/", " ").split() if len(part) >= 4]
            by_serial = [
                nth
                for part in (text, *parts)
                for nth in shelf.with_serial(part, MOST_HITS)
                if part in shelf.line(nth).serials.values()
            ]
        for why, hits in (("by what its code says", by_code), ("by its serial", by_serial)):
            for nth in hits:
                found.setdefault((slot.number, nth), Match(slot, shelf.line(nth), why))
    return list(found.values())[:MOST_HITS]


@inside
async def history(request: Request) -> Response:
    """Where a piece was printed, what the ledger tells of its numbers, and its proof."""
    house = house_of(request)
    slot, run = await house.run(request)
    nth, line = line_of(request, run)
    told: dict[str, Any] = {"slot": slot, "run": run, "line": line, "here": "look_up", "kinds": KINDS}
    sealed = (slot.folder / "seal.json").is_file()
    said, why = await asyncio.to_thread(_entries, house, run, nth, line)
    return house.show(request, "history.html", told | {"entries": said, "why": why, "sealed": sealed})


def _entries(house: House, run: Run, nth: int, line: PieceLine) -> tuple[list[tuple[str, Entry]], str]:
    """What the ledgers tell of a piece's numbers, by series; and why they tell nothing."""
    ledgers = house.auditing.ledgers if house.auditing is not None else ()
    if not ledgers:
        return [], "No ledger was named when this page was started: --ledger."
    series = (run.shelf.told.get("ledger") or {}).get("series") or {}
    desk, found, why = desk_of(), list[tuple[str, Entry]](), ""
    try:
        for ledger in ledgers:
            with open_ledger(ledger, operator=desk.operator, now=desk.now, write=False) as opened:
                if len(ledgers) > 1 and not opened.of_run(str(run.shelf.told.get("run"))):
                    continue
                for name in line.serials:
                    if series.get(name, {}).get("column", True):
                        why = f"Numbers of {name} came with the records: vdp ledger history JOB SERIAL tells of them."
                        continue
                    index = int(series[name]["first"]) + run.shelf.report.nth(nth + 1, line.piece)
                    found += [(name, entry) for entry in opened.history(series[name].get("kept_as", name), index)]
    except CallerError as error:
        return [], f"{error.faults[0]}."
    return found, why or ("" if found else "The ledger knows nothing of this number.")


@inside
async def proof(request: Request) -> Response:
    """The proof that a piece was in the sealed run, to keep: it holds no other piece's data."""
    slot, run = await house_of(request).run(request)
    _, line = line_of(request, run)
    serial = next(iter(line.serials.values()), None)
    if serial is None:
        raise HTTPException(422, "This piece has no serial.")
    try:
        data = written(await asyncio.to_thread(prove, [slot.folder], serial))
    except CallerError as error:
        raise HTTPException(422, f"There is no proof: {error.faults[0]}.") from error
    name = f'attachment; filename="proof-{line.piece}.json"'
    return Response(data, media_type="application/json", headers={"Content-Disposition": name})


@inside
async def account(request: Request) -> Response:
    """What became of every number and every copy, by the ledger; and what the line's reads came to, where named."""
    house = house_of(request)
    sums, findings, why = await asyncio.to_thread(_accounts, house)
    told = {"here": "account", "accounts": sums, "findings": findings, "why": why, "auditing": house.auditing}
    return house.show(request, "account.html", told)


def _accounts(house: House) -> tuple[list[Sums], list[Finding], str]:
    ledgers = house.auditing.ledgers if house.auditing is not None else ()
    if not ledgers:
        return [], [], "No ledger was named when this page was started: --ledger."
    desk, sums, findings = desk_of(), list[Sums](), list[Finding]()
    try:
        for ledger in ledgers:
            with open_ledger(ledger, operator=desk.operator, now=desk.now, write=False) as opened:
                by_run = accounts(opened.entries())
                findings += [finding for one in by_run for finding in one.findings()]
                findings += opened.verify_chain()
            sums += [
                Sums(
                    one.series,
                    one.run,
                    {key: one.numbers[key] for key in NUMBERS},
                    {key: one.copies[key] for key in COPIES},
                    one.unseen,
                )
                for one in by_run
            ]
    except CallerError as error:
        return [], [], f"{error.faults[0]}."
    return sums, findings, ""


ROUTES = [
    Route("/look-up", look_up),
    Route("/look-up/serial", look_up_serial, methods=["POST"]),
    Route("/look-up/picture", read_picture, methods=["POST"]),
    Route("/run/{run:int}/history/{piece:int}", history),
    Route("/run/{run:int}/history/{piece:int}/proof.json", proof),
    Route("/account", account),
]

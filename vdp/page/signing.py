"""Sign-off at the screen: comments pinned to a piece and a place, then approve or return, signed.

Lives here: the screens and the comments until they are signed.  Not here: what an answer is bound to and how it is
signed (`vdp.proof`, `vdp.run.signoff`).
"""

from __future__ import annotations

import asyncio
import io
import re
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, Any, cast

from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response
from starlette.routing import Route

from vdp.errors import CallerError
from vdp.page.entering import form_of, house_of, inside, word
from vdp.proof.comments import LONGEST, Comment, SideName, check_comments
from vdp.run.desk import Desk
from vdp.run.expected import Expected, expect
from vdp.run.screen import Screen
from vdp.run.signoff import last_answer, sign_off
from vdp.units import mm

if TYPE_CHECKING:
    from vdp.proof.approval import Decision

#: Comments that are kept until they are signed.
MOST_PINS = 200


@dataclass(slots=True)
class Signing:
    """A job that may be signed off at the page.  `key` signs, for whoever `name` is; None where nobody may sign here.
    `pins` are the comments that are not signed yet."""

    job: Path
    records: Path | None
    run: Path
    desk: Desk
    key: Path | None = None
    name: str = ""
    place: Path | None = None
    pins: list[Comment] = field(default_factory=list)

    def expected(self) -> Expected:
        """The run that an answer is about: the one in the folder, else the one that is still to be made.

        Raises CallerError when the run in the folder is no longer that of the job as it is now."""
        run = self.run if (self.run / "report.json").exists() else None
        return expect(self.job, records=self.records, screen=Screen(io.StringIO()), run=run, desk=self.desk)


def signing_of(request: Request) -> Signing:
    """Raises HTTPException on a page where nothing is signed."""
    signing = house_of(request).signing
    if signing is None:
        raise HTTPException(404, "Nothing is signed here.")
    return signing


@inside
async def sign(request: Request) -> Response:
    """What would be signed, and what was signed until now."""
    return await _shown(request, ())


async def _shown(request: Request, refused: tuple[str, ...]) -> Response:
    signing, faults = signing_of(request), refused
    told: dict[str, Any] = {"here": "sign", "signing": signing, "expected": None, "answers": ()}
    try:
        told["expected"] = expected = await asyncio.to_thread(signing.expected)
        signed = last_answer(expected.opened.job, signing.place)
        told["answers"] = () if signed is None else (signed, *reversed(signed.earlier))
    except CallerError as error:
        faults = (*faults, *(str(fault) for fault in error.faults))
    return house_of(request).show(request, "sign.html", told | {"faults": faults}, 422 if refused else 200)


@inside
async def answer(request: Request) -> Response:
    """Signs: approved, or returned with the comments that are pinned."""
    house, signing = house_of(request), signing_of(request)
    form = await form_of(request)
    decision, seen = word(form, "decision"), word(form, "seen")
    if signing.key is None or decision not in ("approved", "returned") or not seen:
        return await _shown(request, ("Nothing was signed: say approve or return.",))
    comments = list(signing.pins) if decision == "returned" else []
    more = word(form, "words", LONGEST)
    if more:
        comments.append(Comment(more))
    try:
        expected = await asyncio.to_thread(signing.expected)
        sign_off(
            expected,
            cast("Decision", decision),
            key=signing.key,
            name=word(form, "name") or signing.name,
            desk=signing.desk,
            comments=comments,
            seen=seen,
            place=signing.place,
        )
    except CallerError as error:
        return await _shown(request, tuple(str(fault) for fault in error.faults))
    signing.pins.clear()
    house.say(f"signed: {decision}")
    return RedirectResponse("/sign", 303)


@inside
async def pin(request: Request) -> Response:
    """Keeps a comment on a piece, a side and a place of it."""
    house, signing = house_of(request), signing_of(request)
    slot, run = await house.run(request)
    number = int(request.path_params["piece"])
    form = await form_of(request)
    side, words = word(form, "side"), word(form, "words", LONGEST)
    x, y = (word(form, axis) for axis in ("x", "y"))
    at = (float(x), float(y)) if all(re.fullmatch(r"\d{1,4}(\.\d{1,3})?", text) for text in (x, y)) else None
    if run.shelf.nth_of(number) is None or side not in ("front", "back") or slot.job is None:
        raise HTTPException(404, "This run has no such piece.")
    trim = slot.job.layout.trim
    comment = Comment(words, number, cast("SideName", side), at)
    try:
        check_comments([comment], run.shelf.report.pieces, (mm(trim[0]), mm(trim[1])))
    except CallerError as error:
        raise HTTPException(422, f"This is not pinned: {error.faults[0]}.") from error
    if not words or len(signing.pins) >= MOST_PINS:
        raise HTTPException(422, "This is not pinned: say what is wrong, in a few words.")
    signing.pins.append(comment)
    return RedirectResponse(f"/run/{slot.number}/piece/{number}?side={side}", 303)


@inside
async def unpin(request: Request) -> Response:
    """Takes a comment back."""
    signing, number = signing_of(request), word(await form_of(request), "number")
    if number.isdecimal() and int(number) < len(signing.pins):
        del signing.pins[int(number)]
    return RedirectResponse("/sign", 303)


ROUTES = [
    Route("/sign", sign),
    Route("/sign/answer", answer, methods=["POST"]),
    Route("/sign/unpin", unpin, methods=["POST"]),
    Route("/run/{run:int}/piece/{piece:int}/pin", pin, methods=["POST"]),
]

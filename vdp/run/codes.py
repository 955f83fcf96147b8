"""The findings and warnings that a run itself gives; the verifier's codes live in `verify.codes`."""

from __future__ import annotations

from vdp.press.letter import LETTER_CODES
from vdp.verify.preflight.concern import CAUTIONS, ERRORS

RUN_CODES: dict[str, str] = {
    "rows-refused": "rows were refused, and the job says that nothing is composed then",
    "run-unfinished": "a run ended before its files were verified",
    "run-condemned": "the run's own report holds a finding",
    "our-fault": "vdp itself failed; nothing it left may be used",
    "input-refused": "job, layout, artwork, records or options cannot be used as they are",
    "numbers-missing": "no record has a number of the range that the job states for a column",
    "ledger-account": "numbers or copies in a ledger do not add up",
    "line-missing": "a piece was never read on the line",
    "line-double": "a piece was read more than once: all copies but one must be taken out",
    "line-unread": "a piece was seen, but a side of it was never read",
    "line-account": "the press counted other copies than are accounted for",
    "line-out-of-order": "a piece came off in another order than the press was given",
    "line-wrong-back": "front and back that came off together belong to different pieces",
    "line-spoiled": "the line took a piece out",
    "line-sample": "a piece was kept as a sample",
    "line-outstanding": "a piece has not come off the press yet",
    "line-stranger": "a code was read that is of no piece of the run",
    "seal-missing": "a run was not sealed",
    "seal-unchecked": "no public key was given, so who sealed a run is not known",
    "seal-broken": "a seal cannot be read, or was not made by the key given",
    "seal-differs": "something is not what was sealed",
    "seal-stray": "something lies in a sealed folder that was not sealed",
    "seal-report": "a seal, or a run's name, is not what the run's report says",
    "seal-lines": "the public lines are not those of the pieces",
    "seal-salts": "recipients' data was removed, and can be guessed by what was left",
    "proof-broken": "a proof for one piece does not hold",
    "audit-run-twice": "two folders of an audit are of the same run",
    "audit-serial-twice": "a serial stands in more than one piece of the runs audited",
    "audit-serial-check": "a serial has not the form or the check characters of its series",
    "audit-serial-range": "a piece has another number than its run was given for it",
    "audit-serial-gap": "a run was given numbers that none of its pieces has",
    "audit-reprint-wrong": "a reprint is not of the run and the pieces that it says",
    "audit-ledger-differs": "the ledger does not tell of a run what the run tells",
    "audit-reprint-unrecorded": "the ledger does not have the copies of a reprint as spoiled and made good",
    "toner-thick": "more toner lies on one place of a finished page than the job allows",
    "toner-unknown": "the toner of a finished page cannot be measured",
    **LETTER_CODES,
    **ERRORS,
}

WARNINGS: dict[str, str] = {
    **CAUTIONS,
    "approval-unchecked": "a run was made under an approval, and whose key signed it was not asked",
    "numbers-next": "the job had numbers before, and something that went in has changed: a new run, the next numbers",
    "recipient-repeated": "the same recipient stands in more than one row",
    "list-noted": "something about the recipient list as a whole that the operator should know",
    "module-rounded": "an X-dimension is no whole number of dots; the nearest is printed",
    "press-idle": "a press of the job gets nothing to print: the run is too short to need it",
    "rows-set-aside": "rows cannot be set: a run would set them aside, or stop",
    "ticket-unwritten": "no press ticket was written, since the job does not state its stock or its press",
    "roll-large": "a printed roll is larger than the job allows",
    "symbol-small": "an X-dimension is smaller than what came through a simulated print with toner growth",
    "bars-low": "the bars of a code are lower than its stated use asks for",
    "linear-light": "a code of bars is to be read light on dark, which few readers do",
    "microtext-small": "microtext is set below the size at which it surely holds its shape",
}

"""`vdp audit`: sealed runs judged from their folders and a public key alone, one by one and against one another.

Lives here: what is judged, and in which order.  Not here: what it came to (`vdp.audit.opinion`), one folder's seal
(`sealed`), serials (`vdp.audit.register`), the ledger (`traced`), pages (`vdp.verify`).
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from contextlib import suppress
from pathlib import Path

from vdp.audit.claims import Claims
from vdp.audit.opinion import Audit, Run
from vdp.audit.paper import write_audit
from vdp.audit.proof import MOST_PROOF, Proven, judge_proof
from vdp.audit.register import Register, in_order
from vdp.audit.report import Check
from vdp.errors import CallerError, Finding
from vdp.job.faces import builtin_faces
from vdp.run.again import own_findings
from vdp.run.desk import Desk, desk_of
from vdp.run.folder import prepare, put_json, sha256_of
from vdp.run.rest import collector_at_rest
from vdp.run.screen import Screen
from vdp.run.sealed import REPORT, Sealed, judge_lines, open_sealed
from vdp.run.sealing import DATA, PUBLIC, SEAL, read_public
from vdp.run.traced import Traced, trace
from vdp.verify.judge import verify_folder

FILED_PDF, FILED_JSON = "audit.pdf", "audit.json"


def audit_runs(
    folders: Sequence[Path],
    *,
    key: Path | None,
    ledgers: Sequence[str],
    decode: bool,
    workers: int,
    out: Path | None,
    screen: Screen,
    desk: Desk | None = None,
) -> Audit:
    """Raises CallerError for what is no key, no ledger, or no run folder.  `ledgers` are SQLite files or URLs, those of
    all runs; `desk` says who audits and when."""
    desk = desk if desk is not None else desk_of()
    public = None if key is None else read_public(key)
    given = _different(folders)
    audit = Audit(auditor=desk.operator, time=desk.now().isoformat(timespec="seconds"))
    audit.key = "" if public is None else public.hex()
    if len(given) < len(folders):
        audit.unchecked.append(f"nothing twice: {len(folders) - len(given)} folders were named again, and counted once")
    sealed = [open_sealed(folder, public) for folder in given]
    twice, register = _twice(sealed), Register()
    lines = _read(sealed, twice, register, screen)
    how = "signature, hash of every file, report, hash tree, lines"
    _step(audit, "Seals", how, _seals(sealed, lines), f"{len(given)} runs")
    _step(audit, "Runs", "each run given once", twice.values(), f"{len(given) - len(twice)} different")
    audit.serials, audit.serials_unique, audit.reprinted = register.serials, register.unique, register.copies
    how = "form, check characters, the number allotted to each piece, none missing, each once in all runs"
    _step(audit, "Serials", how, register.findings(), f"{audit.serials:,}")
    audit.runs = [_run(each, register) for each in sealed]
    audit.pieces = sum(each.pieces for at, each in enumerate(sealed) if at not in twice)
    _ledgers(audit, [each for at, each in enumerate(sealed) if at not in twice], register, ledgers, desk)
    _pages(audit, sealed, decode, workers, screen)
    audit.unchecked += _unchecked(sealed, register)
    if out is not None:
        _file(audit, out)
    return audit


def _step(audit: Audit, what: str, how: str, found: Iterable[Finding], count: str) -> None:
    """Takes a check's findings."""
    findings = list(found)
    audit.findings += findings
    audit.checks.append(Check(what, how, count, not findings))


def _different(folders: Sequence[Path]) -> list[Path]:
    """The folders, each once.  Raises CallerError for those that are none of a run."""
    given: dict[Path, Path] = {}
    for folder in folders:
        with suppress(OSError):
            if (folder / REPORT).is_file():
                given.setdefault(folder.resolve(), folder)
                continue
        raise CallerError.one(str(folder), "is not a run folder: it has no report.json", "name the folder of a run")
    return list(given.values())


def _twice(sealed: Sequence[Sealed]) -> dict[int, Finding]:
    """Folders, by their places, that hold a run that another one before them holds: their numbers are not counted."""
    seen: dict[str, Sealed] = {}
    twice = {}
    for at, each in enumerate(sealed):
        if each.claims is None:
            continue
        before = seen.setdefault(each.claims.run, each)
        if before is not each:
            message = f"it is of run {each.claims.run}, as is {before.folder}: a copy, or the run printed twice"
            twice[at] = Finding("audit-run-twice", str(each.folder), message)
    return twice


def _read(
    sealed: Sequence[Sealed], twice: Mapping[int, Finding], register: Register, screen: Screen
) -> dict[int, list[Finding]]:
    """Every line of every folder, once; what is wrong with the lines by the folder's place."""
    found = {}
    with collector_at_rest(), screen.step("reading", sum(each.due for each in sealed), "pieces") as tell:
        done = 0
        for at in in_order([each.claims for each in sealed]):
            each = sealed[at]
            take = None if at in twice else register.folder(str(each.folder), each.claims)
            found[at] = list(judge_lines(each, take))
            done += each.pieces
            tell(done)
    return found


def _seals(sealed: Sequence[Sealed], lines: Mapping[int, Sequence[Finding]]) -> Iterator[Finding]:
    for at, each in enumerate(sealed):
        yield from each.found
        yield from lines[at]
        for own in own_findings(each.folder):
            yield Finding(own.code, f"{each.folder}: {own.where}", own.message)


def _run(each: Sealed, register: Register) -> Run:
    claims, path = each.claims, each.folder / SEAL
    seal = sha256_of(path) if path.is_file() else ""
    if claims is None:
        return Run(str(each.folder), pieces=each.pieces, seal=seal)
    return Run(
        folder=str(each.folder),
        job=claims.job,
        run=claims.run,
        copy=claims.copy,
        of="" if claims.copied is None else claims.copied.of,
        pieces=each.pieces,
        set_aside=claims.set_aside,
        seal=seal,
        head=claims.ledger,
        numbers=register.spans(str(each.folder)),
        approval=claims.approval,
    )


def _ledgers(audit: Audit, sealed: Sequence[Sealed], register: Register, ledgers: Sequence[str], desk: Desk) -> None:
    if not ledgers:
        audit.unchecked.append(
            "the ledger: none was named, so its chain, and what it knows of these numbers, were not looked at"
        )
        return
    traced: Traced = trace(ledgers, sealed, register, desk)
    audit.ledgers = traced.shown
    how = "guards, chain, the heads that were sealed, numbers, reprints and people of each run; its account"
    what = "Ledger" if len(traced.shown) == 1 else f"{len(traced.shown)} ledgers"
    _step(audit, what, how, traced.findings, f"{traced.entries:,} entries")
    audit.figures += traced.figures
    audit.accounts += traced.accounts
    audit.unchecked += traced.unchecked


def _pages(audit: Audit, sealed: Sequence[Sealed], decode: bool, workers: int, screen: Screen) -> None:
    """The finished files, all of them: held to pieces.jsonl, or to the public lines where the data was removed."""
    if not decode:
        audit.unchecked.append("the finished pages: they were not decoded again")
        return
    findings: list[Finding] = []
    for each in sealed:
        public = not each.with_data
        if public and not (each.folder / PUBLIC).is_file():
            audit.unchecked.append(
                f"the pages of {each.folder}: neither {DATA} nor {PUBLIC} is there, so they have nothing to be held to"
            )
            continue
        with screen.step("decoding", None, "pages") as tell:
            verdict = verify_folder(each.folder, workers=workers, progress=tell, public=public)
        audit.pages += verdict.pages
        findings += [Finding(f.code, f"{each.folder}: {f.where}", f.message) for f in verdict.findings]
    how = "in full: each page and sheet read, each symbol decoded, each number read again"
    _step(audit, "Finished files", how, findings, f"{audit.pages:,} pages")


def _unchecked(sealed: Sequence[Sealed], register: Register) -> Iterator[str]:
    for each in sealed:
        if each.with_data and each.seal is not None and each.salts is None:
            yield f"the data hashes of {each.folder}: the salts are not there"
        elif each.seal is not None and not each.with_data:
            yield (
                f"what the codes of {each.folder} say: recipients' data was removed, as it may be; the public lines "
                "were judged, and of the pages contents, serials, and that each code reads and shows no other's serial"
            )
        copied = each.claims.copied if each.claims is not None else None
        if copied is not None and copied.of not in register.runs:
            yield f"what {each.folder} repeats: the folder of run {copied.of[:12]}… was not given"
    yield from register.unseen()
    yield from _keyed([each.claims for each in sealed if each.claims is not None])
    yield from _approvals(sealed)
    yield (
        "what report.pdf, tickets, packing lists and labels say: they are the files that were sealed, and were not read"
    )
    yield "rows of the records: an audit has no list to hold the pieces against (vdp verify --job --records has)"
    yield "what was printed: an audit sees files, not paper"


def _keyed(runs: Sequence[Claims]) -> Iterator[str]:
    """What only the records, or who has a series' key, could tell of its numbers."""
    series = {name: given.terms for claims in runs for name, given in claims.series.items()}
    columns = {name for claims in runs for name, given in claims.series.items() if given.column}
    for name in sorted(columns):
        yield f"which number of series {name} each piece must have: by the runs' own reports they came with the records"
    for name, terms in series.items():
        if terms.shuffled:
            yield (
                f"which number each serial of series {name} is: they are shuffled, and only the key tells their order; "
                "form, check characters, count and uniqueness were judged"
            )
        if terms.code:
            yield f"the authenticity codes of series {name}: only the key proves them (vdp ledger check has it)"
        if terms.prefix is None and terms.suffix is None:
            yield f"form and number of the serials of series {name}: both of their ends come with each record"


def _approvals(sealed: Sequence[Sealed]) -> Iterator[str]:
    """An approval is the customer's own file; what a run says of it is the maker's word."""
    said = [each for each in sealed if each.claims is not None and each.claims.approval is not None]
    for each in said:
        approval = each.claims.approval if each.claims is not None else None
        if approval is not None:
            yield (
                f"the approval of {each.folder}: it says that {approval.name} approved proof {approval.proof[:12]}…; "
                "approval.json, which the customer signed and which is no file of the run, was not held against it"
            )
    if len(said) < len(sealed):
        yield f"approvals: {len(sealed) - len(said)} of {len(sealed)} folders tell of none"


def _file(audit: Audit, out: Path) -> None:
    prepare(out)
    put_json(out / FILED_JSON, audit.as_dict())
    write_audit(out / FILED_PDF, audit, builtin_faces()["sans"].path)


def check_proof(path: Path, key: Path) -> Proven:
    """What a proof for one piece comes to.  Raises CallerError for a file that cannot be read."""
    public = read_public(key)
    try:
        with path.open("rb") as file:
            data = file.read(MOST_PROOF + 1)
    except OSError as error:
        message, mend = f"cannot be read: {error.strerror}", "name the file that vdp audit --prove wrote"
        raise CallerError.one(str(path), message, mend) from error
    return judge_proof(data, public)

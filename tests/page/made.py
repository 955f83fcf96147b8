"""Pages for tests: a house over a run, and a client that holds its session."""

from __future__ import annotations

import io
import itertools
import re
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

import httpx2 as httpx
from starlette.testclient import TestClient

from vdp.job.load import load_job
from vdp.page.app import make_app
from vdp.page.gate import Gate
from vdp.page.guard import hosts_of
from vdp.page.house import Auditing, House
from vdp.page.opened import Slot
from vdp.page.signing import Signing
from vdp.run.audit import audit_runs
from vdp.run.desk import desk_of
from vdp.run.screen import Screen

PASSWORD = "eleven lamps on a quay"  # noqa: S105  of tests alone
ORIGIN = "http://127.0.0.1:8000"


class Clock:
    """Seconds that a test moves on."""

    def __init__(self) -> None:
        self.now = 1000.0

    def __call__(self) -> float:
        return self.now


class At:
    """A client of a page; `log` is what the page said."""

    def __init__(self, client: TestClient, house: House, log: list[str], clock: Clock) -> None:
        self.client, self.house, self.log, self.clock = client, house, log, clock

    def come_in(self) -> None:
        answer = self.client.get("/open", params={"word": self.house.gate.link()})
        assert answer.status_code == 200, answer.text

    def get(self, path: str) -> httpx.Response:
        return self.client.get(path)

    def token(self, path: str = "/") -> str:
        found = re.search(r'name="token" value="([0-9a-f]+)"', self.client.get(path).text)
        assert found is not None
        return found[1]

    def post(self, path: str, **fields: str) -> httpx.Response:
        return self.client.post(path, data={"token": self.token(), **fields}, headers={"origin": ORIGIN})


def counting() -> Callable[[int], bytes]:
    """Bytes that differ from one asking to the next."""
    count = itertools.count(1)
    return lambda length: next(count).to_bytes(length, "big")


def house_for(
    home: Path, *, audited: bool = False, password: str | None = None, key: Path | None = None
) -> tuple[House, list[str], Clock]:
    """A house over `home`/out."""
    log: list[str] = []
    clock = Clock()
    auditing = None
    if audited:
        found = audit_runs(
            [home / "out"],
            key=home / "press.key.public",
            ledgers=[str(home / "ledger.sqlite")],
            decode=False,
            workers=1,
            out=None,
            screen=Screen(io.StringIO()),
        )
        auditing = Auditing(found, (str(home / "ledger.sqlite"),))
    job = None if audited else load_job(home / "job.yaml")
    gate = Gate(password, chance=counting(), now=clock)
    signing = None if audited else Signing(home / "job.yaml", None, home / "out", desk_of("tester"), key, "A. Marsh")
    return House(gate, [Slot(1, home / "out", job)], "vdp-test", log.append, auditing, signing), log, clock


@contextmanager
def client_of(made: tuple[House, list[str], Clock]) -> Iterator[At]:
    house, log, clock = made
    app = make_app(house, hosts_of("127.0.0.1"))
    with TestClient(app, base_url=ORIGIN, client=("127.0.0.1", 50000)) as client:
        yield At(client, house, log, clock)
    for slot in house.slots:
        slot.close()

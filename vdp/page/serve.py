"""The page served: where it binds, its link, its log, its end.

Lives here: uvicorn and what `vdp proof --serve` and `vdp audit --serve` say.  Not here: the application (`app`).
"""

from __future__ import annotations

import os
import secrets
import socket
import sys
import time
from collections.abc import Callable, Sequence
from contextlib import suppress
from pathlib import Path

import uvicorn

from vdp.errors import CallerError
from vdp.page.app import make_app
from vdp.page.gate import Gate
from vdp.page.guard import hosts_of, is_loopback
from vdp.page.house import Auditing, House
from vdp.page.opened import Slot
from vdp.page.signing import Signing

#: Letters that a password has at least.
LEAST = 10


def serve(
    slots: Sequence[Slot],
    *,
    host: str,
    port: int,
    password: Path | None,
    auditing: Auditing | None = None,
    signing: Signing | None = None,
    say: Callable[[str], None] | None = None,
) -> None:
    """Serves until it is interrupted.  `port` 0 takes a free one.

    Raises CallerError for an address that is not this machine's alone and no password, and for one that is taken.
    """
    tell = say if say is not None else _say
    word = read_password(password) if password is not None else None
    if not is_loopback(host) and word is None:
        raise CallerError.one(
            "--host", f"'{host}' can be reached from elsewhere, and there is no password", "say --password FILE"
        )
    with _bound(host, port) as bound:
        taken = bound.getsockname()[1]
        gate = Gate(word, chance=secrets.token_bytes, now=time.monotonic)
        house = House(gate, slots, f"vdp-{taken}", tell, auditing, signing)
        shown = f"[{host}]" if ":" in host else host
        address = f"http://{shown}:{taken}/"
        tell(f"open {address}open?word={gate.link()}" if word is None else f"open {address} and give the password")
        tell("stop with Ctrl+C")
        config = uvicorn.Config(
            make_app(house, hosts_of(host)),
            access_log=False,
            log_level="critical",
            proxy_headers=False,
            server_header=False,
            lifespan="off",
            h11_max_incomplete_event_size=32_000,
            timeout_keep_alive=15,
        )
        with suppress(KeyboardInterrupt):
            uvicorn.Server(config).run([bound])
    for slot in slots:
        slot.close()


def read_password(path: Path) -> str:
    """The first line of a file that nobody else may read.  Raises CallerError."""
    try:
        if path.stat().st_mode & 0o077:
            raise CallerError.one(str(path), "may be read by others", f"chmod 600 {path.name}")
        lines = path.read_text(encoding="utf-8").splitlines()
    except (OSError, UnicodeDecodeError) as error:
        raise CallerError.one(str(path), f"cannot be read: {error}", "name a file that holds the password") from error
    word = lines[0].strip() if lines else ""
    if len(word) < LEAST:
        raise CallerError.one(str(path), f"its first line has fewer than {LEAST} letters", "choose a longer password")
    return word


def _bound(host: str, port: int) -> socket.socket:
    try:
        family = socket.getaddrinfo(host, port, type=socket.SOCK_STREAM)[0][0]
        bound = socket.socket(family, socket.SOCK_STREAM)
        try:
            bound.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
            bound.bind((host, port))
        except BaseException:
            bound.close()
            raise
    except (OSError, OverflowError, UnicodeError) as error:
        raise CallerError.one(
            "--host", f"'{host}', port {port}, cannot be used: {error}", "name another with --host or --port"
        ) from error
    os.set_inheritable(bound.fileno(), False)
    return bound


def _say(line: str) -> None:
    sys.stderr.write(f"{line}\n")
    sys.stderr.flush()

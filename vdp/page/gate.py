"""Who may come in: a link that works once, or a password; sessions; the token that every form carries; lock-out.

Lives here: decisions, without any web framework.  Not here: requests and answers (`entering`, `guard`).

Passwords are held as argon2id hashes only; sessions are signed with a key that is made when the page starts and
forgotten when it ends.  Clock and randomness are arguments.
"""

from __future__ import annotations

import hashlib
import hmac
from collections import OrderedDict
from collections.abc import Callable
from dataclasses import dataclass

from argon2 import PasswordHasher
from argon2.exceptions import VerificationError
from itsdangerous import BadSignature, URLSafeSerializer

#: Wrong tries after which an address has to wait, and all addresses together.
TRIES, TRIES_ALL = 5, 60
#: Seconds of the first wait; it doubles with every further wrong try, up to the longest.
FIRST_WAIT, LONGEST_WAIT = 30.0, 3600.0
#: Seconds after which a session ends although it is used, and without use.
LONGEST, IDLE = 12 * 3600.0, 2 * 3600.0
MOST_SESSIONS, MOST_ADDRESSES = 500, 2000


@dataclass(slots=True)
class _Tries:
    wrong: int = 0
    until: float = 0.0


@dataclass(slots=True)
class _Session:
    begun: float
    used: float


class Gate:
    """`password` may be None: then only links let in.  `chance` gives that many random bytes, `now` seconds that never
    go back."""

    def __init__(self, password: str | None, *, chance: Callable[[int], bytes], now: Callable[[], float]) -> None:
        self._hasher = PasswordHasher()
        self._hash = None if password is None else self._hasher.hash(password)
        self._chance, self._now = chance, now
        self._key = chance(32)
        self._signer = URLSafeSerializer(self._key, salt="session")
        self._links: set[bytes] = set()
        self._sessions: OrderedDict[str, _Session] = OrderedDict()
        self._tries: OrderedDict[str, _Tries] = OrderedDict()
        self._all = _Tries()

    @property
    def has_password(self) -> bool:
        return self._hash is not None

    def link(self) -> str:
        """A word that lets in whoever says it first."""
        word = self._chance(24).hex()
        self._links.add(_digest(word))
        return word

    def by_link(self, word: str, address: str) -> str | None:
        """A new session for a word that was not used before; else None, which counts as a wrong try."""
        known = _digest(word)
        if self.wait(address) > 0:
            return None
        if known in self._links:
            self._links.discard(known)
            return self._begin()
        self._wrong(address)
        return None

    def by_password(self, said: str, address: str) -> str | None:
        """A new session for the right password; else None.  While an address waits, the right one is refused too."""
        if self._hash is None or self.wait(address) > 0:
            return None
        try:
            self._hasher.verify(self._hash, said)
        except VerificationError:
            self._wrong(address)
            return None
        self._tries.pop(address, None)
        return self._begin()

    def wait(self, address: str) -> float:
        """Seconds for which an address is not heard."""
        tries = self._tries.get(address, _Tries())
        return max(0.0, tries.until - self._now(), self._all.until - self._now())

    def _wrong(self, address: str) -> None:
        tries = self._tries.setdefault(address, _Tries())
        self._tries.move_to_end(address)
        while len(self._tries) > MOST_ADDRESSES:
            self._tries.popitem(last=False)
        for told, most in ((tries, TRIES), (self._all, TRIES_ALL)):
            told.wrong += 1
            if told.wrong >= most:
                told.until = self._now() + min(LONGEST_WAIT, FIRST_WAIT * 2.0 ** min(20, told.wrong - most))

    # -- sessions -----------------------------------------------------------------------------------------------------

    def _begin(self) -> str:
        name = self._chance(18).hex()
        self._sessions[name] = _Session(self._now(), self._now())
        while len(self._sessions) > MOST_SESSIONS:
            self._sessions.popitem(last=False)
        self._all = _Tries()
        return str(self._signer.dumps(name))

    def session(self, cookie: str) -> str | None:
        """The name of the live session that a cookie is for; None for one that is forged, ended or too old."""
        try:
            name = self._signer.loads(cookie[:400])
        except BadSignature:
            return None
        known = self._sessions.get(name) if isinstance(name, str) else None
        if known is None:
            return None
        now = self._now()
        if now - known.begun > LONGEST or now - known.used > IDLE:
            del self._sessions[name]
            return None
        known.used = now
        return str(name)

    def end(self, name: str) -> None:
        """Ends a session."""
        self._sessions.pop(name, None)

    def token(self, name: str) -> str:
        """What forms of a session must carry: nobody who cannot read its pages knows it."""
        return hmac.digest(self._key, f"form\n{name}".encode(), "sha256").hex()

    def agrees(self, name: str, token: str) -> bool:
        """Whether a form's token is the session's."""
        return hmac.compare_digest(self.token(name).encode(), token.encode("utf-8", "replace"))


def _digest(word: str) -> bytes:
    """Links are kept as hashes, so that comparing them tells nothing by its time."""
    return hashlib.sha256(word.encode("utf-8", "replace")).digest()

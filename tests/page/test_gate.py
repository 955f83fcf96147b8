"""The gate: links work once, passwords lock, sessions end, forged ones are nothing."""

from __future__ import annotations

from itsdangerous import URLSafeSerializer

from tests.page.made import PASSWORD, Clock, counting
from vdp.page import gate as room
from vdp.page.gate import FIRST_WAIT, IDLE, LONGEST, TRIES, TRIES_ALL, Gate


def made(password: str | None = PASSWORD) -> tuple[Gate, Clock]:
    clock = Clock()
    return Gate(password, chance=counting(), now=clock), clock


def test_a_link_works_once() -> None:
    gate, _ = made(None)
    word = gate.link()
    cookie = gate.by_link(word, "a")
    assert cookie is not None
    assert gate.session(cookie) is not None
    assert gate.by_link(word, "a") is None
    assert gate.by_link("", "a") is None


def test_the_password_lets_in_and_nothing_else_does() -> None:
    gate, _ = made()
    assert gate.by_password(PASSWORD, "a") is not None
    assert gate.by_password(PASSWORD + " ", "a") is None
    assert made(None)[0].by_password("", "a") is None


def test_an_address_that_guesses_waits_longer_and_longer_and_others_do_not() -> None:
    gate, clock = made()
    for _ in range(TRIES):
        assert gate.wait("a") == 0
        assert gate.by_password("wrong", "a") is None
    assert gate.wait("a") == FIRST_WAIT
    assert gate.by_password(PASSWORD, "a") is None  # the right one is not heard either
    assert gate.by_link(gate.link(), "a") is None
    assert gate.by_password(PASSWORD, "b") is not None
    clock.now += FIRST_WAIT
    gate.by_password("wrong", "a")
    assert gate.wait("a") == 2 * FIRST_WAIT
    clock.now += 2 * FIRST_WAIT
    assert gate.by_password(PASSWORD, "a") is not None
    gate.by_password("wrong", "a")
    assert gate.wait("a") == 0  # the count began anew


def test_many_addresses_together_wait_too() -> None:
    gate, _ = made(None)
    for at in range(TRIES_ALL):
        gate.by_link("wrong", f"address {at}")
    assert gate.wait("another") == FIRST_WAIT


def test_what_is_remembered_of_addresses_and_sessions_is_bounded() -> None:
    gate, _ = made(None)
    first = gate.by_link(gate.link(), "a")
    assert first is not None
    for _ in range(room.MOST_SESSIONS):
        gate.by_link(gate.link(), "a")
    assert gate.session(first) is None


def test_a_session_ends_by_age_by_idleness_and_by_leaving() -> None:
    gate, clock = made(None)
    cookie = gate.by_link(gate.link(), "a")
    assert cookie is not None
    for _ in range(int(LONGEST // (IDLE - 1))):
        clock.now += IDLE - 1
        assert gate.session(cookie) is not None
    clock.now += IDLE - 1
    assert gate.session(cookie) is None
    cookie = gate.by_link(gate.link(), "a")
    assert cookie is not None
    clock.now += IDLE + 1
    assert gate.session(cookie) is None
    cookie = gate.by_link(gate.link(), "a")
    assert cookie is not None
    name = gate.session(cookie)
    assert name is not None
    gate.end(name)
    assert gate.session(cookie) is None


def test_forged_sessions_are_nothing() -> None:
    gate, _ = made(None)
    cookie = gate.by_link(gate.link(), "a")
    assert cookie is not None
    name, signature = cookie.rsplit(".", 1)
    for forged in ("", "x", name, f"{name}.", f"{name}.{signature[:-2]}", f"{signature}.{name}", "a" * 100_000):
        assert gate.session(forged) is None
    assert gate.session(str(URLSafeSerializer(b"another key", salt="session").dumps("x"))) is None
    # Signed by the right key, but of no session that began: what a page that was started before gave out.
    assert gate.session(str(gate._signer.dumps("0" * 36))) is None
    assert gate.session(str(gate._signer.dumps({"name": 1}))) is None


def test_a_form_of_another_session_does_not_agree() -> None:
    gate, _ = made(None)
    assert gate.agrees("one", gate.token("one"))
    assert not gate.agrees("one", gate.token("two"))
    assert not gate.agrees("one", "")
    assert not gate.agrees("one", "\ud800")

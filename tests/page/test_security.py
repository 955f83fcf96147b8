"""What must not get in, out, or into the log: locked gates, forged sessions, foreign forms, paths, uploads."""

from __future__ import annotations

import io
import re
import struct
import zipfile
import zlib
from pathlib import Path

import pytest
from PIL import Image

from tests.page.made import ORIGIN, PASSWORD, At, client_of, house_for
from vdp.page import guard, scan
from vdp.page.gate import TRIES

INSIDE = (
    *("/", "/run/1/pieces", "/run/1/piece/1", "/run/1/piece/1/front.png", "/run/1/piece/1/front/dots.png"),
    *("/run/1/piece/1/code/0", "/run/1/aside", "/run/1/findings", "/run/1/web", "/run/1/web/1/1", "/run/1/live"),
    *(
        "/run/1/web/stacks.svg",
        "/run/1/web/told?piece=1",
        "/look-up",
        "/account",
        "/run/1/history/1",
        "/run/1/history/1/proof.json",
    ),
)
SIGNED = ("/sign/answer", "/sign/unpin", "/run/1/piece/1/pin")
FORMS = (*SIGNED, "/run/1/find", "/run/1/web/place", "/leave", "/look-up/serial", "/look-up/picture")


@pytest.mark.parametrize("path", INSIDE)
def test_nothing_is_shown_without_a_session(sealed: Path, path: str) -> None:
    with client_of(house_for(sealed, audited=True)) as at:
        answer = at.client.get(path, follow_redirects=False)
        assert (answer.status_code, answer.headers["location"]) == (303, "/enter")
        assert at.client.get(path, headers={"hx-request": "true"}).status_code == 403
        for forged in ("x", "InNlc3Npb24i.AAAA", "0" * 5000):
            at.client.cookies.set("vdp-test", forged)
            assert at.client.get(path, follow_redirects=False).status_code == 303
        assert "forged or ended" in "\n".join(at.log)


@pytest.mark.parametrize("path", FORMS)
def test_a_form_needs_session_token_and_origin(sealed: Path, path: str) -> None:
    with client_of(house_for(sealed, audited=path not in SIGNED)) as at:
        assert at.client.post(path, data={"asked": "V"}).status_code == 403
        at.come_in()
        for token in ({}, {"token": ""}, {"token": "0" * 64}):
            assert at.client.post(path, data=token, headers={"origin": ORIGIN}).status_code == 403
        good = {"token": at.token()}
        for origin in ("http://evil.example", "null", "http://127.0.0.1:9999", "https://127.0.0.1:8000"):
            assert at.client.post(path, data=good, headers={"origin": origin}).status_code == 403
        assert at.client.get(path, follow_redirects=False).status_code in (303, 404, 405)
        assert at.client.get("/").status_code == 200  # a refused "leave" left the session alone


def test_wrong_passwords_lock_the_gate_and_the_right_one_is_not_heard_then(sealed: Path) -> None:
    with client_of(house_for(sealed, password=PASSWORD)) as at:
        for _ in range(TRIES - 1):
            assert at.client.post("/enter", data={"password": "guess"}).status_code == 401
        assert at.client.post("/enter", data={"password": "guess"}).status_code == 429
        locked = at.client.post("/enter", data={"password": PASSWORD})
        assert locked.status_code == 429
        assert int(locked.headers["retry-after"]) == 30
        assert at.client.get("/", follow_redirects=False).status_code == 303
        at.clock.now += 31
        answer = at.client.post("/enter", data={"password": PASSWORD}, follow_redirects=False)
        assert (answer.status_code, answer.headers["location"]) == (303, "/")
        cookie = answer.headers["set-cookie"].lower()
        assert "httponly" in cookie
        assert "samesite=strict" in cookie
        log = "\n".join(at.log)
        assert "a wrong password" in log
        assert "guess" not in log
        assert PASSWORD not in log


def test_a_link_lets_in_once_and_leaving_ends_it(sealed: Path) -> None:
    with client_of(house_for(sealed)) as at:
        word = at.house.gate.link()
        assert at.client.get("/open", params={"word": word}).status_code == 200
        assert at.client.get("/open", params={"word": word}).status_code == 403
        cookie = at.client.cookies.get("vdp-test")
        assert cookie is not None
        assert at.post("/leave").url.path == "/enter"
        at.client.cookies.set("vdp-test", cookie)
        assert at.client.get("/", follow_redirects=False).status_code == 303
        assert word not in "\n".join(at.log)


def test_another_name_for_this_machine_is_not_answered(sealed: Path) -> None:
    """A page of another site whose name is made to lead here (DNS rebinding) gets nothing, not even the gate."""
    with client_of(house_for(sealed)) as at:
        for host in ("evil.example", "evil.example:8000", "", "127.0.0.1.evil.example"):
            assert at.client.get("/enter", headers={"host": host}).status_code == 400
        for host in ("127.0.0.1:8000", "localhost:8000", "[::1]:8000", "[::1]"):
            assert at.client.get("/enter", headers={"host": host}).status_code == 200


def test_hosts_follow_from_what_is_bound_to() -> None:
    assert guard.hosts_of("0.0.0.0") == frozenset() == guard.hosts_of("::")  # noqa: S104  not bound
    assert guard.hosts_of("press-room") == {"press-room"}
    assert "[::1]" in guard.hosts_of("::1")
    assert guard.is_loopback("127.3.2.1")
    assert not guard.is_loopback("10.0.0.1")


@pytest.mark.parametrize("path", ["/", "/enter", "/run/1/piece/1", "/run/1/piece/1/front.png", "/static/page.js", "/x"])
def test_every_answer_has_the_headers(proof: At, path: str) -> None:
    headers = proof.get(path).headers
    policy = headers["content-security-policy"]
    assert "default-src 'none'" in policy
    assert "unsafe" not in policy
    assert "http:" not in policy
    assert headers["x-content-type-options"] == "nosniff"
    assert headers["referrer-policy"] == "same-origin"
    assert headers["cache-control"] == "no-store"
    assert "server" not in headers


def test_no_script_or_style_is_written_into_a_page(proof: At, audit: At) -> None:
    for at in (proof, audit):
        for path in INSIDE:
            text = at.get(path).text if not path.endswith(".png") else ""
            assert not re.search(r"<script(?![^>]* src=)|<style|\sstyle=|\son[a-z]+=|javascript:|hx-on", text), path
            assert not re.search(r'(?:src|href)="(?:https?:)?//', text), path


@pytest.mark.parametrize(
    "path",
    [
        *("/static/../shelf.py", "/static/%2e%2e/shelf.py", "/static/..%2fshelf.py", "/static/....//shelf.py"),
        *("/static/%2e%2e/%2e%2e/run/desk.py", "/static//etc/passwd", "/static/..\\shelf.py", "/static/"),
        *("/run/1/../../etc/passwd", "/run/1/piece/1/..%2f..%2freport.json", "/run/1/piece/..%2f1", "/run/0/pieces"),
        *("/run/1/piece/1/front%00.png", "/run/-1/pieces", "/run/1/piece/1/../../../list.csv.png", "/run/2/piece/1"),
        *("/run/1/report.json", "/run/1/pieces.jsonl", "/run/1/pieces.pdf", "/report.json", "/press.key"),
    ],
)
def test_no_path_leads_out_of_the_screens(proof: At, path: str) -> None:
    answer = proof.client.get(path)
    assert answer.status_code in (400, 404)
    for leaked in ("def ", "root:", "Guest", "sha256"):
        assert leaked not in answer.text


def test_a_symbolic_link_in_the_folder_is_not_followed_to_other_files(copy: Path) -> None:
    """The page serves what it draws, never files of the folder: a planted name gives nothing."""
    (copy / "out" / "secret.txt").symlink_to(copy / "press.key")
    with client_of(house_for(copy)) as at:
        at.come_in()
        for path in ("/secret.txt", "/run/1/secret.txt", "/static/secret.txt", "/run/1/piece/1/secret.txt"):
            assert at.client.get(path).status_code == 404


def test_names_of_recipients_are_in_no_address_and_no_log(proof: At) -> None:
    proof.post("/run/1/find", asked="Guest 7")
    proof.get("/run/1/find?asked=Guest%207")
    proof.get("/Guest 7")
    proof.get("/run/1/piece/Guest")
    proof.get("/run/1/piece/7")
    proof.get("/run/1/aside")
    assert "Guest" not in "\n".join(proof.log)
    pages = proof.get("/run/1/piece/7").text + proof.post("/run/1/find", asked="guest").text
    assert not any("Guest" in address for address in re.findall(r'(?:href|src|action|hx-get)="([^"]*)"', pages))


def test_words_of_the_records_stay_words(copy: Path) -> None:
    """What the list says is shown, never obeyed."""
    aside = (copy / "out" / "set_aside.csv").read_text("utf-8")
    (copy / "out" / "set_aside.csv").write_text(aside.replace("A name ", "<img src=x onerror=alert(1)>"), "utf-8")
    with client_of(house_for(copy)) as at:
        at.come_in()
        text = at.get("/run/1/aside").text
    assert "<img src=x" not in text
    assert "&lt;img src=x" in text


# -- uploads ----------------------------------------------------------------------------------------------------------


def png(width: int, height: int, body: bytes = b"") -> bytes:
    """A PNG that says it has that many pixels."""

    def chunk(kind: bytes, data: bytes) -> bytes:
        return struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data))

    head = chunk(b"IHDR", struct.pack(">IIBBBBB", width, height, 8, 0, 0, 0, 0))
    return b"\x89PNG\r\n\x1a\n" + head + chunk(b"IDAT", zlib.compress(body)) + chunk(b"IEND", b"")


def text_bomb() -> bytes:
    """A PNG whose text would be 300 MB."""
    data = b"Comment\0\0" + zlib.compress(b"x" * 300_000_000, 9)
    made = png(8, 8, b"\0" * 72)
    chunk = struct.pack(">I", len(data)) + b"zTXt" + data + struct.pack(">I", zlib.crc32(b"zTXt" + data))
    return made[:33] + chunk + made[33:]


def jpeg(broken: bool) -> bytes:
    out = io.BytesIO()
    Image.new("L", (64, 64), 200).save(out, "JPEG")
    data = out.getvalue()
    return data[: len(data) // 2] if broken else data


def zipped() -> bytes:
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("picture.png", b"\0" * 5_000_000)
    return out.getvalue()


HOSTILE = {
    "a PDF": b"%PDF-1.7\n1 0 obj<</OpenAction<</S/JavaScript/JS(app.alert(1))>>>>endobj\n",
    "a zip bomb": zipped(),
    "an SVG": b'<svg xmlns="http://www.w3.org/2000/svg"><script>alert(1)</script></svg>',
    "a GIF": b"GIF89a\x01\x00\x01\x00\x00\x00\x00;",
    "a TIFF": b"II*\x00\x08\x00\x00\x00",
    "PostScript": b"%!PS-Adobe-3.0\n(/etc/passwd) (r) file\n",
    "a PDF named as a picture inside": b"\x00" + b"\x89PNG\r\n\x1a\n" + b"%PDF",
    "too many pixels": png(60_000, 60_000),
    "many pixels in few bytes": png(9_000, 9_000, b"\0" * (9_001 * 9_000)),
    "a broken PNG": png(100, 100, b"\0" * 40),
    "a text bomb": text_bomb(),
    "only the first bytes of a PNG": b"\x89PNG\r\n\x1a\n",
    "half a JPEG": jpeg(broken=True),
    "nothing": b"",
}


@pytest.mark.parametrize("data", HOSTILE.values(), ids=HOSTILE.keys())
def test_hostile_pictures_are_refused_logged_and_leak_nothing(audit: At, data: bytes) -> None:
    token = audit.token()
    files = {"picture": ("../../etc/passwd.png", data, "image/png")}
    answer = audit.client.post("/look-up/picture", data={"token": token}, files=files)
    assert answer.status_code == 422
    assert "passwd" not in answer.text + "\n".join(audit.log)
    assert "Traceback" not in answer.text
    assert not data or any("refused: a picture" in line for line in audit.log)
    assert audit.get("/").status_code == 200


def test_a_body_that_is_too_large_is_not_read_to_its_end(audit: At) -> None:
    token = audit.token()
    large = {"picture": ("a.png", b"\x89PNG\r\n\x1a\n" + b"\0" * guard.MOST_UPLOAD, "image/png")}
    assert audit.client.post("/look-up/picture", data={"token": token}, files=large).status_code == 413
    assert audit.client.post("/look-up/serial", data={"token": token, "serial": "V" * 70_000}).status_code == 413
    assert audit.client.post("/enter", data={"password": "V" * 70_000}).status_code == 413
    assert "refused: a body of more than 64,000 bytes" in audit.log


def test_forms_with_too_much_in_them_are_refused(audit: At) -> None:
    token = audit.token()
    many = {"token": token, **{f"f{n}": "x" for n in range(200)}}
    assert audit.client.post("/look-up/serial", data=many).status_code in (400, 413)
    two = [("picture", ("a.png", jpeg(broken=False))), ("other", ("b.png", jpeg(broken=False)))]
    assert audit.client.post("/look-up/picture", data={"token": token}, files=two).status_code == 400
    assert audit.client.post("/look-up/serial", data={"token": token}, files=two[:1]).status_code == 200  # no serial
    broken = audit.client.post(
        "/look-up/picture", content=b"--x\r\nnothing", headers={"content-type": "multipart/form-data; boundary=x"}
    )
    assert broken.status_code in (400, 403)


def test_a_process_that_takes_too_long_or_too_much_is_ended(audit: At, monkeypatch: pytest.MonkeyPatch) -> None:
    token = audit.token()
    files = {"picture": ("a.jpg", jpeg(broken=False), "image/jpeg")}
    monkeypatch.setattr(scan, "PATIENCE", 0.001)
    assert "too long" in audit.client.post("/look-up/picture", data={"token": token}, files=files).text
    monkeypatch.setattr(scan, "PATIENCE", 30.0)
    monkeypatch.setattr("sys.executable", "/bin/false")
    assert "more than" in audit.client.post("/look-up/picture", data={"token": token}, files=files).text


def test_our_own_fault_tells_the_log_where_and_the_asker_nothing(proof: At, monkeypatch: pytest.MonkeyPatch) -> None:
    def broken(*_: object) -> None:
        raise RuntimeError("Guest 7 of the list")

    monkeypatch.setattr("vdp.page.screens._facts", broken)
    answer = proof.client.get("/")
    assert answer.status_code == 500
    assert "Guest" not in answer.text + "\n".join(proof.log)
    assert any(line.startswith("our fault: RuntimeError at broken") for line in proof.log)

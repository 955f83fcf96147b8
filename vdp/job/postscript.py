"""PostScript and EPS artwork as PDF, through Ghostscript where it is installed.

PostScript is a program, so it runs in Ghostscript's sandbox (no files but its own), with bounds of time and memory.
"""

from __future__ import annotations

import atexit
import hashlib
import resource
import shutil
import subprocess
import tempfile
from functools import lru_cache
from pathlib import Path

from vdp.errors import CallerError

ENDINGS = (".ps", ".eps")
#: Seconds, bytes of memory and bytes of output that a conversion may take.
MOST_SECONDS, MOST_MEMORY, MOST_OUTPUT = 60, 3_000_000_000, 500_000_000


def is_postscript(path: Path) -> bool:
    """By the ending of its name."""
    return path.suffix.lower() in ENDINGS


def as_pdf(path: Path) -> Path:
    """The artwork itself, or for PostScript its PDF, converted once a process.

    Raises CallerError when Ghostscript is absent, refuses the file, or takes too long.
    """
    if not is_postscript(path):
        return path
    try:
        digest = hashlib.sha256(path.read_bytes()).hexdigest()
    except OSError as error:
        raise CallerError.one(path.name, f"cannot be read: {error.strerror}", "name another file") from error
    return _converted(path, digest)


@lru_cache(maxsize=1)
def _folder() -> Path:
    folder = Path(tempfile.mkdtemp(prefix="vdp-artwork-"))
    atexit.register(shutil.rmtree, folder, ignore_errors=True)
    return folder


@lru_cache(maxsize=256)
def _converted(path: Path, digest: str) -> Path:
    ghostscript = shutil.which("gs")
    if ghostscript is None:
        raise CallerError.one(
            path.name,
            "is PostScript, which needs Ghostscript to become a PDF, and it is not installed",
            "install ghostscript, or export the artwork as PDF",
        )
    out = _folder() / f"{digest}.pdf"
    command = [
        ghostscript,
        *("-q", "-dSAFER", "-dBATCH", "-dNOPAUSE", "-dEPSCrop", "-dEmbedAllFonts=true", "-dCompatibilityLevel=1.6"),
        *("-sDEVICE=pdfwrite", "-sColorConversionStrategy=LeaveColorUnchanged", "-dAutoRotatePages=/None"),
        *("-dAutoFilterColorImages=false", "-dColorImageFilter=/FlateEncode", "-dDownsampleColorImages=false"),
        *("-dAutoFilterGrayImages=false", "-dGrayImageFilter=/FlateEncode", "-dDownsampleGrayImages=false"),
        *("-dDownsampleMonoImages=false", f"-sOutputFile={out}", "-f", str(path.resolve())),
    ]
    said = _run(command)
    if said is not None or not out.is_file():
        out.unlink(missing_ok=True)
        raise CallerError.one(path.name, f"Ghostscript cannot convert it: {said}", "export the artwork as PDF")
    return out


def _run(command: list[str]) -> str | None:
    """What went wrong, or None."""
    with tempfile.TemporaryDirectory(prefix="vdp-") as scratch:
        process = subprocess.Popen(  # noqa: S603  a fixed program and a path of the caller's own
            command,
            stdin=subprocess.DEVNULL,
            stdout=subprocess.PIPE,
            stderr=subprocess.STDOUT,
            cwd=scratch,
            env={"PATH": "/usr/bin:/bin", "TMPDIR": scratch, "HOME": scratch},
        )
        for kind, most in (
            (resource.RLIMIT_AS, MOST_MEMORY),
            (resource.RLIMIT_FSIZE, MOST_OUTPUT),
            (resource.RLIMIT_CPU, MOST_SECONDS),
        ):
            resource.prlimit(process.pid, kind, (most, most))
        try:
            output, _ = process.communicate(timeout=MOST_SECONDS)
        except subprocess.TimeoutExpired:
            process.kill()
            process.communicate()
            return f"it was not done after {MOST_SECONDS} seconds"
    if process.returncode == 0:
        return None
    lines = [line for line in output.decode("utf-8", "replace").splitlines() if line.strip()]
    return lines[0][:200] if lines else f"it ended with {process.returncode}"

"""Names of files in jobs, layouts and records → paths that cannot leave their folder.

A name is judged as text first (the same on every system), then where it leads, links followed.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Callable
from pathlib import Path

#: Longest name, in characters.
LONGEST = 500
#: Names that mean a device on some system, with or without an ending.
_DEVICES = re.compile(r"(?:con|prn|aux|nul|com[0-9¹²³]|lpt[0-9¹²³]|conin\$|conout\$)(?:\..*)?\Z", re.IGNORECASE)

_UNPRINTED = ("Cc", "Cf", "Cs", "Zl", "Zp")
#: What makes a name unfit, tried in this order.
_UNFIT: tuple[tuple[Callable[[str], bool], str], ...] = (
    (lambda name: not name.strip(), "is empty"),
    (lambda name: len(name) > LONGEST, f"is longer than {LONGEST} characters"),
    (
        lambda name: any(unicodedata.category(char) in _UNPRINTED for char in name),
        "has a control or format character in it",
    ),
    (lambda name: "\\" in name, "has a backslash in it: folders are parted by /"),
    (lambda name: name.startswith(("/", "~")) or ":" in name, "is not relative to the job's folder"),
    (lambda name: ".." in name.split("/"), "leads out of the job's folder"),
    (
        lambda name: any(not part or part != part.strip() or part.endswith(".") for part in name.split("/")),
        "has a part that is empty, or that begins or ends in a space, or ends in a full stop",
    ),
    (lambda name: any(map(_DEVICES.match, name.split("/"))), "means a device on some systems"),
)


def shown(name: str) -> str:
    """A name for a message: short, and with nothing in it that a terminal would obey."""
    text = "".join(c if c.isprintable() else f"\\x{ord(c):02x}" for c in name[:80])
    return f"'{text}…'" if len(name) > 80 else f"'{text}'"


def name_fault(name: str) -> str | None:
    """What is wrong with a file name as a text, as the end of a sentence; None when nothing is."""
    return next((fault for unfit, fault in _UNFIT if unfit(name)), None)


def inside(folder: Path, name: str, also: Path | None = None) -> Path:
    """The file of that name in a folder (or in `also`, when it lies there), with links followed.

    Raises ValueError with the end of a sentence when the name is unfit, leads elsewhere, or is not there.
    """
    fault = name_fault(name)
    if fault is not None:
        raise ValueError(fault)
    try:
        home = folder.resolve()
        path = (home / name).resolve()
        allowed = path.is_relative_to(home) or (also is not None and path.is_relative_to(also.resolve()))
        if not allowed:
            raise ValueError("leads out of the job's folder through a link")
        if not path.exists():
            raise ValueError("is not there")
        if not path.is_file():
            raise ValueError("is not a file")
    except (OSError, RuntimeError) as error:
        raise ValueError("cannot be looked up: it runs in a circle or is too long") from error
    return path

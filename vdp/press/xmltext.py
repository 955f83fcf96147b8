"""Text that XML 1.0 can carry: the one rule that drawings and tickets share."""

from __future__ import annotations

import re
from xml.etree import ElementTree as ET

#: What XML 1.0 (§2.2 Char) has no way to write.
_UNWRITABLE = re.compile("[^\t\n\r\u0020-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")


def carried(text: str) -> str:
    """`text` with U+FFFD for every character that XML cannot carry."""
    return _UNWRITABLE.sub("\ufffd", text)


def document(root: ET.Element) -> bytes:
    """The element as a UTF-8 file, two spaces a level, line feeds; the same element gives the same bytes."""
    ET.indent(root)
    body: str = ET.tostring(root, encoding="unicode")
    return f'<?xml version="1.0" encoding="UTF-8"?>\n{body}\n'.encode()

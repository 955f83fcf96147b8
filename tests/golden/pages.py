"""A page per script, set by the whole chain from text to file and drawn by a reader.

Run ``python -m tests.golden.pages`` to draw them again; look at every one before committing it.
"""

from __future__ import annotations

import tempfile
from pathlib import Path

import numpy as np
import numpy.typing as npt
import pypdfium2 as pdfium
from PIL import Image

from tests.pdf.made import SETTER, write
from vdp.marks import BLACK, Mark, TextMark
from vdp.text import Style

FOLDER = Path(__file__).parent / "scripts"

#: Name → (face, language, text): sentences of the demo's own kind, with the marks and joins that go wrong first.
PAGES = {
    "latin": ("sans", "en", "The office staff fly efficiently: “AVATAR”, naïve façade, coöperate — 1⁄2, №"),
    "vietnamese": ("serif", "vi", "Chuyến phà Thống Nhất khởi hành lúc bảy giờ; xin quý khách giữ vé cẩn thận."),
    "polish": ("sans", "pl", "Zażółć gęślą jaźń: łódź, święto, źdźbło, ćma."),
    "greek": ("serif", "el", "Η κάρτα ισχύει έως τις 31 Οκτωβρίου· ΐ, ΰ, Ϊ, ᾠδή."),
    "cyrillic": ("sans", "ru", "Съешь ещё этих мягких булок; Їжак, Ґанок, Ўзор."),
    "serbian": ("serif-italic", "sr", "бгдпт — облик слова"),
    "arabic": ("sans", "ar", "السّلام عليكم! بطاقة رقم 4021 صالحة لـ 3 رحلات (Thalvera) لا إلى الأبد."),
    "hebrew": ("sans", "he", "שָׁלוֹם! הכרטיס TL27-000004Q בתוקף עד 31.10.2027."),
    "devanagari": ("sans", "hi", "क्षत्रिय, श्री, हिन्दी, कृपया टिकट सँभालकर रखें।"),
    "thai": ("sans", "th", "ที่นี่ น้ำใจ กรุณาเก็บตั๋วไว้กับตัวตลอดการเดินทางข้ามเกาะ ป่า ฝั่ง"),
    "chinese-simplified": ("sans", "zh-Hans", "请妥善保管船票，直骨门关。二〇二七年有效。"),
    "chinese-traditional": ("sans", "zh-Hant", "請妥善保管船票，直骨門關。二〇二七年有效。"),
    "japanese": ("sans", "ja", "乗船券をなくさないでください。直骨門関、「島めぐり」は夏まで。"),
    "korean": ("sans", "ko", "승선권을 잘 보관해 주세요. 여름까지 유효합니다."),
}


def draw(name: str, folder: Path) -> npt.NDArray[np.uint8]:
    """The page as grey pixels, 255 paper, at 200 dpi; the width is 70 mm."""
    face, language, text = PAGES[name]
    box = (120, 60, 3060, 880)
    setting = SETTER.set(text, Style(face, 10.0, leading=14.0), language, box)
    marks: list[Mark] = [TextMark(name, BLACK, box, 0, setting.size, setting.lines)]
    path = write(folder / "page.pdf", [marks, []], width=3300, height=1000, bleed=0)
    with pdfium.PdfDocument(path) as document:
        pixels = np.asarray(document[0].render(scale=200 / 72, grayscale=True).to_numpy())
    return pixels.reshape(pixels.shape[0], -1).astype(np.uint8)


def main() -> None:
    FOLDER.mkdir(exist_ok=True)
    with tempfile.TemporaryDirectory() as folder:
        for name in PAGES:
            Image.fromarray(draw(name, Path(folder))).quantize(16).save(FOLDER / f"{name}.png", optimize=True)


if __name__ == "__main__":
    main()

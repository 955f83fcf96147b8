"""A run folder under attack: the job it was made from, edits of its files, and hashes made right again afterwards."""

from __future__ import annotations

import hashlib
import io
import json
import re
import shutil
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pikepdf
from PIL import Image
from reportlab.pdfgen.canvas import Canvas

from vdp.job.load import load_job
from vdp.records.table import open_table
from vdp.run import run_job
from vdp.run.screen import Screen
from vdp.verify.judge import verify_folder
from vdp.verify.verdict import Verdict

JOB = """\
job: Vouchers
layout: layout.yaml
set_aside: continue
artwork: {accept: [art-bleed, art-font, art-picture-coarse]}
grade: {least: 3.5, sample: 3}
records:
  file: list.csv
  language: lang
  fields: {name: {required: true}}
series:
  voucher: {prefix: VC-, start: 41, width: 6, check: mod37_36}
"""

LAYOUT = """\
trim: [70 mm, 50 mm]
bleed: 2 mm
front:
  - {art: art.pdf}
  - {name: hello, text: {en: "Dear {{ name }} of {{ city }}", el: "Αγαπητέ {{ name }} από {{ city }}"}, box: [4 mm, 5 mm, 34 mm, 9 mm], size: 8 pt}
  - {name: number, number: voucher, box: [4 mm, 15 mm, 30 mm, 5 mm], face: mono, size: 9 pt}
  - {name: bars, barcode: code128, data: "{{ series.voucher }}", at: [3 mm, 22 mm], x: 0.254 mm, height: 6 mm}
  - {name: square, barcode: qr, data: "{{ series.voucher }}/{{ city }}", at: [46 mm, 5 mm], x: 0.508 mm}
  - {name: view, image: "{{ picture }}", box: [48 mm, 30 mm, 16 mm, 12 mm]}
back:
  - {name: fine, microtext: "{{ name }} {{ series.voucher }}", box: [4 mm, 4 mm, 50 mm, 1 mm], face: mono, size: 1.2 pt}
  - {name: stub, text: "Stub of {{ name }} {{ series.voucher }}", box: [4 mm, 8 mm, 50 mm, 6 mm], size: 8 pt}
  - {name: secret, text: "GENUINE {{ series.voucher }}", plate: Clear, box: [4 mm, 20 mm, 38 mm, 6 mm], size: 8 pt}
  - {name: hidden, barcode: datamatrix, data: "{{ series.voucher }}", at: [46 mm, 14 mm], x: 0.508 mm, plate: Clear}
"""  # noqa: E501  flow style keeps an item on a line

LIST = """\
name,lang,city,picture
Anna,en,Bergen,red.jpg
Νίκος,el,Πάτρα,blue.jpg
Bo,en,Umbria,red.jpg
,en,Nowhere,red.jpg
Jan,en,Kielce,blue.jpg
Orla,en,Quincy,red.jpg
Xenia,en,Zwolle,blue.jpg
"""


def write_job(folder: Path, more: str = "") -> Path:
    """Job, layout with more on the back, records, artwork and two pictures.  Returns the job file."""
    folder.mkdir()
    for name, text in (("job.yaml", JOB), ("layout.yaml", LAYOUT + more), ("list.csv", LIST)):
        (folder / name).write_text(text, encoding="utf-8", newline="")
    art = Canvas(str(folder / "art.pdf"), pagesize=(70 / 25.4 * 72, 50 / 25.4 * 72), invariant=1)
    art.setFillColorCMYK(0.3, 0, 0.1, 0)
    art.rect(0, 0, 60, 30, stroke=0, fill=1)
    art.save()
    for name, ink in (("red.jpg", (0, 200, 180, 10)), ("blue.jpg", (200, 120, 0, 10))):
        picture = Image.new("CMYK", (48, 36), ink)
        picture.paste((0, 0, 0, 255), (4, 4, 20, 30))
        picture.save(folder / name, quality=92)
    return folder / "job.yaml"


def make_run(folder: Path, more: str = "") -> Path:
    """A job and its run folder, ``out`` in it."""
    result = run_job(write_job(folder, more), records=None, out=folder / "out", workers=1, screen=Screen(io.StringIO()))
    assert result.ok, result.findings
    return folder


def file_hash(path: Path) -> str:
    return hashlib.sha256(path.read_bytes()).hexdigest()


#: A symbol as the composer draws it: its own scale, then rectangles.
SYMBOL = re.compile(rb"q [^\n]* cm\n(?:[ \d]+re\n)+f Q\n")


class Tampered:
    """A copy of a run that is changed, then made to look right."""

    def __init__(self, run: Path, into: Path) -> None:
        self.home = into / "job"
        shutil.copytree(run, self.home)
        self.out = self.home / "out"

    # -- the PDF ------------------------------------------------------------------------------------------------------

    def pdf(self, change: Callable[[pikepdf.Pdf], None]) -> None:
        """Opens pieces.pdf, lets it be changed, and writes it again."""
        path = self.out / "pieces.pdf"
        with pikepdf.open(path, allow_overwriting_input=True) as pdf:
            change(pdf)
            pdf.save(path)

    def contents(self, change: Callable[[list[bytes]], None]) -> None:
        """Changes the content streams, front and back in turn."""

        def all_pages(pdf: pikepdf.Pdf) -> None:
            before = [page.Contents.read_bytes() for page in pdf.pages]
            after = list(before)
            change(after)
            assert before != after, "nothing was changed"
            for page, old, new in zip(pdf.pages, before, after, strict=True):
                if old != new:
                    page.Contents = pikepdf.Stream(pdf, new)

        self.pdf(all_pages)

    def page(self, number: int, change: Callable[[bytes], bytes]) -> None:
        """Changes the content of one 0-based page."""

        def one(contents: list[bytes]) -> None:
            contents[number] = change(contents[number])

        self.contents(one)

    # -- the other files ----------------------------------------------------------------------------------------------

    def lines(self, change: Callable[[list[dict[str, Any]]], object]) -> None:
        """Changes the lines of pieces.jsonl."""
        path = self.out / "pieces.jsonl"
        lines = [json.loads(line) for line in path.read_text("utf-8").splitlines()]
        change(lines)
        path.write_text("".join(json.dumps(line, ensure_ascii=False) + "\n" for line in lines), "utf-8")

    def report(self, change: Callable[[dict[str, Any]], object]) -> None:
        """Changes report.json."""
        path = self.out / "report.json"
        report = json.loads(path.read_text("utf-8"))
        change(report)
        path.write_text(json.dumps(report), "utf-8")

    def refresh(self, *, contents: bool = True, files: bool = True) -> None:
        """Makes the hashes right: of contents in pieces.jsonl, of files and inputs in report.json."""
        if contents:
            with pikepdf.open(self.out / "pieces.pdf") as pdf:
                streams = [page.Contents.read_bytes() for page in pdf.pages]

            def hashed(lines: list[dict[str, Any]]) -> None:
                for place, line in enumerate(lines):
                    line["sha256"] = hashlib.sha256(b"".join(streams[2 * place : 2 * place + 2])).hexdigest()

            self.lines(hashed)

        def named(report: dict[str, Any]) -> None:
            for name in report["files"]:
                if (self.out / name).exists():
                    report["files"][name] = file_hash(self.out / name)
            for key in ("job", "layout", "records"):
                entry = report["inputs"][key]
                entry["sha256"] = file_hash(self.home / entry["name"])

        if files:
            self.report(named)

    def verdict(self, *, with_rows: bool = True, workers: int = 1) -> Verdict:
        """What the verifier says."""
        if not with_rows:
            return verify_folder(self.out, workers=workers)
        job = load_job(self.home / "job.yaml")
        table = open_table(job.records_path, job.model.records, "list.csv")
        return verify_folder(self.out, job, table, workers=workers)

    def codes(self, *, with_rows: bool = True) -> set[str]:
        """The finding codes of it."""
        return {finding.code for finding in self.verdict(with_rows=with_rows).findings}


def swap_symbols(contents: list[bytes], one: int, other: int, which: int) -> None:
    """Exchanges the symbol drawn `which`th between two pages."""
    a, b = (list(SYMBOL.finditer(contents[page]))[which] for page in (one, other))
    first, second = contents[one], contents[other]
    contents[one] = first[: a.start()] + b[0] + first[a.end() :]
    contents[other] = second[: b.start()] + a[0] + second[b.end() :]

"""The whole file against the Arlington PDF Model: nothing wrong on any demo, and mutations are seen.

The model's tables lie beside the project (`../shared/arlington`); elsewhere these tests skip, in CI they fail.
"""

from __future__ import annotations

import io
import os
import re
import shutil
import subprocess
import warnings
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any

import pikepdf
import pypdfium2
import pytest
from pikepdf import Array, Dictionary, Name, String

from tests.pdf.arlington import FOLDER, Rule, Walk, holds, read_model
from tests.verify.conformance.made import make_pieces
from vdp.run import run_job
from vdp.run.screen import Screen

ROOT = Path(__file__).parents[2]
#: Lines of each list that are made, the header included.
MOST_ROWS = 61
#: Files for the press, and not for people.
PRESSED = re.compile(r"/(pieces|sheets)[^/]*\.pdf$")
Model = Mapping[str, Mapping[str, Rule]]
#: Types for which there is no table at hand; anything else without one is a failure.
WITHOUT_TABLE = {
    *("ArrayOfDescendantFonts", "ArrayOfNamesForProcSet", "ArrayOfNumbersGeneral", "ArrayOfOCGindirect"),
    *("ArrayOfOptContentGroups", "ArrayOfOptContentOrderElements", "ArrayOfStringsText", "DictionaryOfDictionaries"),
    *("ArrayOfCIDGlyphMetricsW", "CIDSystemInfo", "FontFile2", "FontFile3CIDType0"),
    *("FilterLZWDecode", "FontType1", "FunctionType2", "Stream", "ToUnicodeCMapStream", "_UniversalDictionary"),
}


@pytest.fixture(scope="module")
def model() -> Model:
    if not FOLDER.is_dir():
        said = f"the Arlington model is not at {FOLDER}: this check did not run"
        if os.environ.get("CI"):
            pytest.fail(said)
        pytest.skip(said)
    return read_model()


@pytest.fixture(scope="module")
def small(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return make_pieces(tmp_path_factory.mktemp("arlington") / "job")


@pytest.fixture(scope="module")
def demos(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Path]:
    """Every finished PDF of every demo, from a copy of its folder."""
    home = tmp_path_factory.mktemp("demos")
    for folder in ("layouts", "demo_records"):
        shutil.copytree(ROOT / folder, home / folder, ignore=shutil.ignore_patterns("out", "ledger.sqlite*"))
    for records in (home / "demo_records").glob("*.csv"):
        few = records.read_text(encoding="utf-8").splitlines(keepends=True)[:MOST_ROWS]
        records.write_text("".join(few), encoding="utf-8", newline="")
    made: dict[str, Path] = {}
    for job in sorted((home / "layouts").glob("*/job.yaml")):
        out = job.parent / "out"
        run_job(job, records=None, out=out, workers=1, screen=Screen(io.StringIO()))
        made |= {f"{job.parent.name}/{path.name}": path for path in sorted(out.glob("*.pdf"))}
    return made


def test_every_demo_keeps_to_the_model(model: Model, demos: dict[str, Path]) -> None:
    pressed = {name: path for name, path in demos.items() if PRESSED.search(name)}
    assert len(pressed) >= 3
    for name, path in pressed.items():
        with pikepdf.open(path) as pdf:
            walk = Walk(model).file(pdf)
            assert walk.faults == [], name
            assert walk.objects > 20
            assert set(walk.unknown) <= WITHOUT_TABLE, name


def test_readers_open_every_demo_without_a_word(demos: dict[str, Path], need: Callable[[str], str]) -> None:
    """qpdf, Ghostscript, poppler and PDFium; and the metadata packet by a third XMP reader (pikepdf's, on lxml)."""
    claims = 0
    for name, path in demos.items():
        checked = subprocess.run([need("qpdf"), "--check", str(path)], capture_output=True, text=True, check=False)
        assert (checked.returncode, checked.stderr) == (0, ""), (name, checked.stderr)
        drawn = subprocess.run(
            [need("gs"), "-q", "-dSAFER", "-dBATCH", "-dNOPAUSE", "-sDEVICE=nullpage", "-dLastPage=6", str(path)],
            capture_output=True,
            text=True,
            check=False,
        )
        assert (drawn.returncode, drawn.stdout + drawn.stderr) == (0, ""), (name, drawn.stdout)
        told = subprocess.run([need("pdfinfo"), str(path)], capture_output=True, text=True, check=True)
        assert told.stderr == "", name
        with pypdfium2.PdfDocument(path) as document:
            assert len(document) > 0
        with pikepdf.open(path) as pdf, warnings.catch_warnings():
            if not PRESSED.search(name) or "/OutputIntents" not in pdf.Root:
                continue
            claims += 1
            warnings.simplefilter("error")
            with pdf.open_metadata(set_pikepdf_as_editor=False) as packet:
                assert packet["{http://www.npes.org/pdfx/ns/id/}GTS_PDFXVersion"] == "PDF/X-4"
                assert packet["xmp:CreateDate"] == packet["xmp:ModifyDate"]
                assert packet["dc:title"]
                if name.endswith("pieces.pdf"):
                    assert packet["{http://www.npes.org/pdfvt/ns/id/}GTS_PDFVTVersion"] == "PDF/VT-1"
    assert claims >= 3


def top(pdf: pikepdf.Pdf) -> pikepdf.Object:
    return pdf.Root.DPartRoot.DPartRootNode


def leaf(pdf: pikepdf.Pdf) -> pikepdf.Object:
    return top(pdf).DParts[0][0].DParts[0][0]


def font(pdf: pikepdf.Pdf) -> pikepdf.Object:
    return next(iter(pdf.pages[0].resources.Font.values()))


def image(pdf: pikepdf.Pdf) -> pikepdf.Object:
    return next(x for x in pdf.pages[0].resources.XObject.values() if x.Subtype == Name.Image)


def form(pdf: pikepdf.Pdf) -> pikepdf.Object:
    return next(x for x in pdf.pages[0].resources.XObject.values() if x.Subtype == Name.Form)


def state(pdf: pikepdf.Pdf) -> pikepdf.Object:
    return next(iter(pdf.pages[0].resources.ExtGState.values()))


def separation(pdf: pikepdf.Pdf) -> pikepdf.Object:
    return next(iter(pdf.pages[0].resources.ColorSpace.values()))


#: Holder, key, new value (None takes it away).
MUTATIONS: list[tuple[Callable[[pikepdf.Pdf], Any], str, Any]] = [
    (lambda pdf: pdf.Root, "/Type", Name.Catalogue),
    (lambda pdf: pdf.Root, "/Metadata", String("x")),
    (lambda pdf: pdf.Root.DPartRoot, "/DPartRootNode", None),
    (lambda pdf: pdf.Root.DPartRoot, "/NodeNameList", None),
    (lambda pdf: pdf.Root.DPartRoot, "/NodeNameList", Array([String("Job")])),
    (lambda pdf: pdf.Root.DPartRoot, "/RecordLevel", String("2")),
    (top, "/Parent", None),
    (top, "/DParts", Dictionary()),
    (leaf, "/Start", None),
    (leaf, "/Start", 7),
    (leaf, "/DPM", Array([])),
    (lambda pdf: leaf(pdf).DPM.CIP4_Root, "/Type", None),
    (lambda pdf: top(pdf).DPM.CIP4_Root.CIP4_Metadata, "/CIP4_Creator", None),
    (lambda pdf: top(pdf).DPM.CIP4_Root.CIP4_Metadata, "/CIP4_JobID", String("x")),
    (lambda pdf: pdf.Root.OutputIntents[0], "/S", None),
    (lambda pdf: pdf.Root.OutputIntents[0], "/OutputConditionIdentifier", None),
    (lambda pdf: pdf.Root.OutputIntents[0].DestOutputProfile, "/N", None),
    (lambda pdf: pdf.pages[0].obj, "/Type", None),
    (lambda pdf: pdf.pages[0].obj, "/TrimBox", Name.None_),
    (lambda pdf: pdf.pages[0].obj, "/Rotate", 45),
    (lambda pdf: pdf.Root.Pages, "/Count", None),
    (lambda pdf: pdf.Root.Pages, "/Kids", Name.None_),
    (font, "/Subtype", None),
    (font, "/Encoding", 3),
    (lambda pdf: font(pdf).DescendantFonts[0], "/CIDSystemInfo", None),
    (lambda pdf: font(pdf).DescendantFonts[0], "/FontDescriptor", None),
    (lambda pdf: font(pdf).DescendantFonts[0].FontDescriptor, "/Flags", None),
    (image, "/Width", None),
    (image, "/GTS_Scope", Name.Forever),
    (image, "/GTS_Encapsulated", 1),
    (form, "/BBox", None),
    (form, "/GTS_Scope", Name.Global),
    (state, "/OPM", 2),
    (state, "/op", 1),
    (lambda pdf: pdf.Root.OCProperties, "/D", None),
    (lambda pdf: pdf.Root.OCProperties.OCGs[0], "/Name", None),
    (lambda pdf: pdf.trailer.Info, "/Trapped", Name.Perhaps),
]


@pytest.mark.parametrize("number", range(len(MUTATIONS)))
def test_a_mutation_is_seen(number: int, model: Model, small: Path, tmp_path: Path) -> None:
    holder, key, value = MUTATIONS[number]
    with pikepdf.open(small) as pdf:
        assert Walk(model).file(pdf).faults == []
        found = holder(pdf)
        if value is None:
            del found[key]
        else:
            found[key] = value
        assert Walk(model).file(pdf).faults != []


def test_a_direct_root_of_parts_is_seen(model: Model, small: Path) -> None:
    with pikepdf.open(small) as pdf:
        pdf.Root.DPartRoot = Dictionary(dict(pdf.Root.DPartRoot.items()))
        assert any(fault.where == "Catalog::DPartRoot" for fault in Walk(model).file(pdf).faults)


@pytest.mark.parametrize(
    ("expression", "due"),
    [
        ("fn:IsRequired(fn:Not(fn:IsPresent(Start)))", True),
        ("fn:IsRequired((@GTS_Scope==Stream) || (@GTS_Scope==Global))", True),
        ("fn:Eval((@Rotate mod 90)==0)", False),
        ("fn:Eval((@ca>=0) && (@ca<=1))", True),
        ("fn:Eval(fn:Extension(PDF_VT2,1.6) || 2.0)", True),
        ("fn:SinceVersion(2.0)", False),
        ("fn:IsRequired(fn:FontHasLatinChars())", None),
    ],
)
def test_predicates(expression: str, due: bool | None) -> None:
    found = {"/GTS_Scope": Name.Global, "/Rotate": 45, "/ca": 1}
    assert holds(expression, found) is due

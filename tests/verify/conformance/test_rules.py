"""Every rule of PDF/X-4 and PDF/VT-1 is tripped by a mutation of its own, and by none on a good file.

Rules: ISO 15930-7:2010 and ISO 16612-2:2010 as STANDARDS §3.1 and §3.2 list them.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from pathlib import Path

import pikepdf
import pytest
from pikepdf import Array, Dictionary, Name, String

from tests.verify.conformance.made import make_pieces, spoiled
from vdp.verify.conformance.codes import CONFORMANCE
from vdp.verify.conformance.judge import MOST_TOLD, PDFVT, PDFX, judge_standard
from vdp.verify.doubt import Unreadable

Change = Callable[[pikepdf.Pdf], None]


@pytest.fixture(scope="module")
def good(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return make_pieces(tmp_path_factory.mktemp("good") / "job")


def codes(path: Path, standard: str = PDFVT) -> set[str]:
    return {broken.code for broken in judge_standard(path, standard, 1)}


def put(get: Callable[[pikepdf.Pdf], pikepdf.Object], key: str, value: object) -> Change:
    """Sets an entry, or takes it away for None."""

    def change(pdf: pikepdf.Pdf) -> None:
        holder = get(pdf)
        if value is None:
            del holder[key]
        else:
            holder[key] = value(pdf) if callable(value) and not isinstance(value, pikepdf.Object) else value

    return change


def xmp(old: bytes, new: bytes) -> Change:
    def change(pdf: pikepdf.Pdf) -> None:
        data = pdf.Root.Metadata.read_bytes()
        assert re.search(old, data), old
        pdf.Root.Metadata.write(re.sub(old, new, data))

    return change


def root(pdf: pikepdf.Pdf) -> pikepdf.Object:
    return pdf.Root


def info(pdf: pikepdf.Pdf) -> pikepdf.Object:
    return pdf.trailer.Info


def page(pdf: pikepdf.Pdf) -> pikepdf.Object:
    return pdf.pages[2].obj


def intent(pdf: pikepdf.Pdf) -> pikepdf.Object:
    return pdf.Root.OutputIntents[0]


def shared(
    kind: str, which: Callable[[pikepdf.Object], bool] = lambda _: True
) -> Callable[[pikepdf.Pdf], pikepdf.Object]:
    def get(pdf: pikepdf.Pdf) -> pikepdf.Object:
        return next(found for found in pdf.pages[0].resources[f"/{kind}"].values() if which(found))

    return get


def is_image(found: pikepdf.Object) -> bool:
    return bool(found.Subtype == Name.Image)


image, form = shared("XObject", is_image), shared("XObject", lambda found: not is_image(found))
state, font = shared("ExtGState"), shared("Font")


def part_root(pdf: pikepdf.Pdf) -> pikepdf.Object:
    return pdf.Root.DPartRoot


def top(pdf: pikepdf.Pdf) -> pikepdf.Object:
    return pdf.Root.DPartRoot.DPartRootNode


def batch(pdf: pikepdf.Pdf) -> pikepdf.Object:
    return top(pdf).DParts[0][0]


def leaf(pdf: pikepdf.Pdf) -> pikepdf.Object:
    return batch(pdf).DParts[0][1]


def unembedded(pdf: pikepdf.Pdf) -> None:
    del font(pdf).DescendantFonts[0].FontDescriptor["/FontFile2"]


def second_separation(pdf: pikepdf.Pdf) -> None:
    tint = Dictionary(FunctionType=2, Domain=[0, 1], C0=[0, 0, 0, 0], C1=[1, 0, 0, 0], N=1)
    pdf.pages[0].resources.ColorSpace.Again = Array([Name.Separation, Name.Clear, Name.DeviceCMYK, tint])


def icc_beside_overprint(pdf: pikepdf.Pdf) -> None:
    profile = pdf.Root.OutputIntents[0].DestOutputProfile
    pdf.pages[0].resources.ColorSpace.Press = Array([Name.ICCBased, profile])


def swapped_pages(pdf: pikepdf.Pdf) -> None:
    leaf(pdf).Start, leaf(pdf).End = leaf(pdf).End, leaf(pdf).Start


def lost_leaf(pdf: pikepdf.Pdf) -> None:
    del batch(pdf).DParts[0][1]


def leaf_twice(pdf: pikepdf.Pdf) -> None:
    batch(pdf).DParts[0].append(leaf(pdf))


def inlined_image(pdf: pikepdf.Pdf) -> None:
    found = image(pdf)
    found.Filter = Name.LZWDecode


def note(pdf: pikepdf.Pdf, *edges: float) -> Dictionary:
    return pdf.make_indirect(Dictionary(Type=Name.Annot, Subtype=Name.Text, Rect=Array(list(edges))))


MUTATIONS: list[tuple[str, Change]] = [
    ("standard-claim", xmp(b"PDF/X-4", b"PDF/X-1")),
    ("standard-claim", xmp(b"PDF/VT-1", b"PDF/VT-9")),
    ("standard-claim", xmp(b"<pdfvtid:GTS_PDFVTVersion>.*?</pdfvtid:GTS_PDFVTVersion>", b"")),
    ("standard-metadata", put(root, "/Metadata", None)),
    ("standard-metadata", xmp(b"</rdf:RDF>", b"")),
    ("standard-metadata", xmp(b"<xmpMM:VersionID>1</xmpMM:VersionID>", b"")),
    ("standard-metadata", xmp(b"<dc:title>.*?</dc:title>", b"")),
    ("standard-metadata", xmp(rb"<xmp:MetadataDate>.*?</xmp:MetadataDate>", b"")),
    ("standard-metadata", xmp(b"^", b"<!DOCTYPE x [<!ENTITY a 'b'>]>")),
    ("standard-dates", xmp(rb"(<xmp:ModifyDate>)\d{4}", rb"\g<1>1999")),
    ("standard-dates", xmp(rb"(<pdfvtid:GTS_PDFVTModDate>)\d{4}", rb"\g<1>1999")),
    ("standard-dates", put(info, "/Title", String("another"))),
    ("standard-trapped", put(info, "/Trapped", None)),
    ("standard-trapped", put(info, "/Trapped", Name.Unknown)),
    ("standard-trapped", put(info, "/Trapped", Name("/True"))),
    ("standard-intent", put(root, "/OutputIntents", None)),
    ("standard-intent", put(intent, "/S", Name.GTS_PDFA1)),
    ("standard-intent", put(intent, "/OutputConditionIdentifier", String(""))),
    ("standard-intent", lambda pdf: pdf.Root.OutputIntents.append(pdf.Root.OutputIntents[0])),
    ("standard-profile", put(intent, "/DestOutputProfile", None)),
    ("standard-profile", put(lambda pdf: intent(pdf).DestOutputProfile, "/N", 3)),
    ("standard-profile", lambda pdf: intent(pdf).DestOutputProfile.write(b"\0" * 200)),
    ("standard-boxes", put(page, "/TrimBox", None)),
    ("standard-boxes", put(page, "/ArtBox", Array([1, 1, 9, 9]))),
    ("standard-boxes", put(page, "/TrimBox", Array([-9, 1, 90, 90]))),
    ("standard-boxes", put(page, "/BleedBox", Array([9, 9, 9, 90]))),
    ("standard-font", unembedded),
    ("standard-action", put(root, "/OpenAction", Dictionary(S=Name.JavaScript, JS=String("x")))),
    ("standard-action", put(root, "/Names", Dictionary(EmbeddedFiles=Dictionary(Names=Array([]))))),
    ("standard-action", put(root, "/AcroForm", Dictionary(Fields=Array([])))),
    ("standard-action", put(page, "/AA", Dictionary())),
    ("standard-note", put(page, "/Annots", lambda pdf: Array([note(pdf, 10, 10, 20, 20)]))),
    ("standard-foreign", put(form, "/Subtype2", Name.PS)),
    ("standard-foreign", put(form, "/OPI", Dictionary())),
    ("standard-foreign", put(image, "/F", String("elsewhere"))),
    ("standard-filter", inlined_image),
    ("standard-state", put(state, "/TR", Name.Identity)),
    ("standard-state", put(state, "/TR2", Name.Identity)),
    ("standard-state", put(state, "/HTO", Array([0, 0]))),
    ("standard-state", put(state, "/HT", Dictionary(HalftoneType=1, HalftoneName=String("x")))),
    ("standard-separation", second_separation),
    ("standard-colour", put(image, "/ColorSpace", Name.DeviceRGB)),
    ("standard-colour", put(image, "/ColorSpace", Array([Name.Indexed, Name.DeviceRGB, 0, String("abc")]))),
    ("standard-overprint", icc_beside_overprint),
    ("standard-separated", put(page, "/SeparationInfo", Dictionary(DeviceColorant=Name.Cyan))),
    ("parts-root", put(root, "/DPartRoot", None)),
    ("parts-root", put(part_root, "/DPartRootNode", None)),
    ("parts-root", put(part_root, "/RecordLevel", 7)),
    ("parts-root", put(top, "/Parent", lambda pdf: pdf.pages[0].obj)),
    ("parts-names", put(part_root, "/NodeNameList", None)),
    ("parts-names", put(part_root, "/NodeNameList", Array([String("Job"), String("Batch"), String("Record")]))),
    ("parts-names", put(part_root, "/NodeNameList", Array([Name.Job, Name.Record]))),
    ("parts-node", put(leaf, "/Parent", top)),
    ("parts-node", put(leaf, "/DParts", Array([]))),
    ("parts-node", put(batch, "/DParts", lambda pdf: batch(pdf).DParts[0])),
    ("parts-node", leaf_twice),
    ("parts-order", swapped_pages),
    ("parts-order", lost_leaf),
    ("parts-order", put(leaf, "/End", None)),
    ("parts-page", put(page, "/DPart", None)),
    ("parts-page", put(page, "/DPart", batch)),
    ("parts-page", put(page, "/DPart", lambda pdf: batch(pdf).DParts[0][0])),
    ("parts-metadata", put(leaf, "/DPM", None)),
    ("parts-metadata", put(lambda pdf: leaf(pdf).DPM.CIP4_Root, "/Type", None)),
    ("parts-metadata", put(lambda pdf: leaf(pdf).DPM.CIP4_Root, "/CIP4_Recipient", None)),
    ("parts-scope", put(form, "/GTS_Scope", None)),
    ("parts-scope", put(form, "/GTS_Scope", Name.Global)),
    ("parts-scope", put(image, "/GTS_XID", None)),
    ("parts-scope", put(image, "/GTS_Encapsulated", False)),
]


def test_a_good_file_breaks_no_rule(good: Path, tmp_path: Path) -> None:
    assert list(judge_standard(good, PDFVT, 1)) == []
    assert list(judge_standard(good, PDFX, 1)) == []
    assert codes(spoiled(good, tmp_path / "same.pdf", lambda _: None)) == set()  # saving again spoils nothing


@pytest.mark.parametrize(("code", "change"), MUTATIONS, ids=[f"{n}-{code}" for n, (code, _) in enumerate(MUTATIONS)])
def test_a_mutation_trips_its_rule(code: str, change: Change, good: Path, tmp_path: Path) -> None:
    assert code in codes(spoiled(good, tmp_path / "bad.pdf", change))


def test_what_lies_in_the_bytes(good: Path, tmp_path: Path) -> None:
    path = tmp_path / "bad.pdf"
    data = good.read_bytes()
    path.write_bytes(data.replace(b"%PDF-1.6", b"%PDF-1.7", 1))
    assert codes(path) == {"standard-header"}
    with pikepdf.open(good) as pdf:
        pdf.save(path, encryption=pikepdf.Encryption(owner="o", user=""), fix_metadata_version=False)
    assert "standard-encrypted" in codes(path)
    spot = data.rindex(b"/ID")
    path.write_bytes(data[:spot] + b"/Iq" + data[spot + 3 :])
    assert codes(path) == {"standard-identity"}


def test_every_rule_has_a_mutation() -> None:
    bytes_too = {"standard-header", "standard-encrypted", "standard-identity"}
    assert {code for code, _ in MUTATIONS} | bytes_too == {*CONFORMANCE}


def test_a_note_outside_the_bleed_is_allowed(good: Path, tmp_path: Path) -> None:
    def far(pdf: pikepdf.Pdf) -> None:
        page(pdf).Annots = Array([note(pdf, 9000, 9000, 9010, 9010)])

    assert codes(spoiled(good, tmp_path / "a.pdf", far)) == set()


def test_pdfx_alone_asks_for_no_parts(good: Path, tmp_path: Path) -> None:
    def strip(pdf: pikepdf.Pdf) -> None:
        del pdf.Root["/DPartRoot"]

    assert codes(spoiled(good, tmp_path / "a.pdf", strip), PDFX) == set()


def test_many_of_a_kind_are_counted(good: Path, tmp_path: Path) -> None:
    def all_boxes(pdf: pikepdf.Pdf) -> None:
        for at in pdf.pages:
            at.obj.BleedBox = Array([9, 9, 9, 90])

    path = spoiled(good, tmp_path / "a.pdf", all_boxes)
    told = [broken.message for broken in judge_standard(path, PDFX, 1)]
    assert len(told) == MOST_TOLD + 1
    assert told[-1] == "and 2 more of this kind"


def test_what_is_no_pdf(tmp_path: Path) -> None:
    (tmp_path / "a.pdf").write_bytes(b"no pdf at all")
    with pytest.raises(Unreadable):
        codes(tmp_path / "a.pdf")


def test_a_file_too_large_for_the_second_checker_is_told(good: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    from vdp.verify import checks
    from vdp.verify import judge as room

    def counts() -> list[str]:
        return [check.count for check in room.verify_folder(good.parent).checks if check.what == PDFVT]

    assert counts() == [f"{len(CONFORMANCE)} rules"]
    monkeypatch.setattr(room, "MOST_PAGES", 2)
    monkeypatch.setattr(checks, "MOST_PAGES", 2)
    assert counts() == ["not asked beyond 2 pages"]

"""The ticket, by rules of our own: names, order, required attributes, types and references of the published schema."""

from __future__ import annotations

import re
from dataclasses import replace
from xml.etree import ElementTree as ET

import pytest
from hypothesis import given
from hypothesis import strategies as st

from vdp.errors import OurBug
from vdp.press.stock import Paper, usage
from vdp.press.ticket import NAMESPACE, PrintFile, Ticket, job_id, separation, write_ticket
from vdp.press.web import Turn, Wanted, lay_web
from vdp.press.winding import Winding

IN = 72.0
PAPER = Paper(18 * IN, 0.004 * IN, 74, 50 * IN, 3 * IN)
WEB = lay_web(
    Wanted(18 * IN, 3, 17 * IN, 2, 0.5 * IN, 0.5 * IN, 12 * IN, 0.125 * IN, 90, (0.25 * IN, 0, 0, 0)),
    (5 * IN, 4 * IN),
    0.25 * IN,
    1200,
    "job",
)
TICKET = Ticket(
    job="Theatre voucher <autumn> 2027",
    amount=100_000,
    trim=(5 * IN, 4 * IN),
    bleed=0.25 * IN,
    web=WEB,
    backs="mirrored",
    heads="head_to_head",
    paper=PAPER,
    usage=usage(16_667, 2, 12 * IN, PAPER, 60, "job"),
    front=("Cyan", "Magenta", "Yellow", "Black", "Clear Coat"),
    back=("Black",),
    plates=("Cyan", "Magenta", "Yellow", "Black", "Clear Coat"),
    winding=Winding(rewound=True, leads="left", face="out"),
    files=(
        PrintFile("sheets-001.pdf", "ab" * 32, 1_000_000, 16_000),
        PrintFile("sheets 2.pdf", "cd" * 32, 3 << 30, 17_334),
    ),
    spots={"Clear Coat": (0.0, 1.0, 0.5, 0.0)},
    made="2027-03-09T08:00:00Z",
)

#: Element → required attributes, and children in the order that the schema's sequences have them.
REQUIRED: dict[str, tuple[set[str], list[str]]] = {
    "XJDF": ({"JobID", "Types"}, ["AuditPool", "ProductList", "ResourceSet"]),
    "AuditPool": (set(), ["AuditCreated"]),
    "AuditCreated": (set(), ["Header"]),
    "Header": ({"DeviceID", "Time"}, []),
    "ProductList": (set(), ["Product"]),
    "Product": ({"Amount", "IsRoot", "ID"}, ["Intent"]),
    "Intent": ({"Name"}, ["LayoutIntent", "ColorIntent", "MediaIntent", "VariableIntent"]),
    "LayoutIntent": ({"FinishedDimensions", "Sides"}, []),
    "ColorIntent": (set(), ["SurfaceColor"]),
    "SurfaceColor": ({"Surface", "ColorsUsed"}, []),
    "MediaIntent": ({"MediaType", "Weight"}, []),
    "VariableIntent": ({"VariableType", "VariableQuality"}, []),
    "ResourceSet": ({"Name"}, ["Resource"]),
    "Resource": (
        set(),
        [
            "AmountPool",
            "GeneralID",
            "Part",
            "NodeInfo",
            "RunList",
            "Media",
            "Color",
            "ColorantControl",
            "Layout",
            "Component",
        ],
    ),
    "AmountPool": (set(), ["PartAmount"]),
    "PartAmount": ({"Amount"}, []),
    "GeneralID": ({"IDUsage", "IDValue"}, []),
    "Part": (set(), []),
    "NodeInfo": ({"Status"}, []),
    "RunList": ({"NPage", "Pages"}, ["FileSpec"]),
    "FileSpec": ({"URL", "MimeType"}, []),
    "Media": ({"MediaType", "MediaUnit", "Dimension", "Weight", "Thickness", "RollDiameter", "InnerCoreDiameter"}, []),
    "Color": ({"ActualColorName", "CMYK"}, []),
    "ColorantControl": ({"ColorantParams"}, []),
    "Layout": ({"SurfaceContentsBox"}, ["PlacedObject"]),
    "PlacedObject": ({"CTM", "TrimSize"}, ["ContentObject"]),
    "ContentObject": (set(), []),
    "Component": ({"MediaRef"}, []),
}
NMTOKEN = re.compile(r"[A-Za-z0-9._:-]+")
TOKENS = {"JobID", "Types", "Name", "Separation", "Run", "ColorsUsed", "ColorsUsedFront", "ColorsUsedBack", "IDUsage"}
TOKENS |= {"ColorantOrder", "ColorantParams", "DeviceID", "Surface", "Side", "Status"}
#: Attribute → how many numbers it holds.
NUMBERS = {"FinishedDimensions": 3, "Dimension": 2, "CTM": 6, "TrimCTM": 6, "CMYK": 4, "SurfaceContentsBox": 4}
NUMBERS |= {"ClipBox": 4, "TrimSize": 2, "Weight": 1, "Thickness": 1, "Amount": 1, "NPage": 1}
VALUES = {
    "Sides": {"TwoSidedHeadToHead", "TwoSidedHeadToFoot"},
    "Surface": {"Front", "Back"},
    "Side": {"Front", "Back"},
    "Usage": {"Input", "Output"},
    "VariableType": {"OneLine", "AddressField", "IdentificationField", "Area"},
    "MediaUnit": {"Continuous", "Roll", "Sheet"},
    "ProcessColorModel": {"DeviceCMYK"},
    "MediaType": {"Paper"},
}


def faults(root: ET.Element) -> list[str]:
    """Every breach of the rules above."""
    found: list[str] = []
    ids = [element.attrib["ID"] for element in root.iter() if "ID" in element.attrib]
    found += [f"ID {name} twice" for name in set(ids) if ids.count(name) > 1]
    for element in root.iter():
        name = element.tag.removeprefix(f"{{{NAMESPACE}}}")
        if name not in REQUIRED:
            found.append(f"unknown element {name}")
            continue
        required, order = REQUIRED[name]
        found += [f"{name} without {attribute}" for attribute in sorted(required - element.attrib.keys())]
        children = [child.tag.removeprefix(f"{{{NAMESPACE}}}") for child in element]
        found += [f"{child} in {name}" for child in children if child not in order]
        places = [order.index(child) for child in children if child in order]
        found += [f"children of {name} out of order"] if places != sorted(places) else []
        for attribute, value in element.attrib.items():
            if attribute in TOKENS and not all(NMTOKEN.fullmatch(token) for token in value.split(" ")):
                found.append(f"{name}/@{attribute} is no NMTOKEN: {value}")
            if attribute in NUMBERS and len([float(number) for number in value.split()]) != NUMBERS[attribute]:
                found.append(f"{name}/@{attribute} has {value}")
            if attribute in VALUES and value not in VALUES[attribute]:
                found.append(f"{name}/@{attribute} is {value}")
            if attribute.endswith("Ref") and value not in ids:
                found.append(f"{name}/@{attribute} leads nowhere: {value}")
        if name in ("Intent", "ResourceSet"):
            inside = {part.tag.removeprefix(f"{{{NAMESPACE}}}") for part in element.iter()}
            found += [f"{name} {element.get('Name')} holds none"] if element.get("Name") not in inside else []
    return found


def read(ticket: Ticket) -> ET.Element:
    return ET.fromstring(write_ticket(ticket))  # noqa: S314 - written by the test itself


def one(root: ET.Element, name: str) -> ET.Element:
    element = root.find(f".//{{{NAMESPACE}}}{name}")
    assert element is not None
    return element


def every(root: ET.Element, name: str) -> list[ET.Element]:
    return root.findall(f".//{{{NAMESPACE}}}{name}")


def test_the_ticket_keeps_the_rules_and_is_the_same_twice() -> None:
    assert faults(read(TICKET)) == []
    assert write_ticket(TICKET) == write_ticket(TICKET)
    assert faults(read(replace(TICKET, heads="head_to_foot", backs="as_front", made=None))) == []
    assert every(read(replace(TICKET, made=None)), "AuditPool") == []


@pytest.mark.parametrize(
    ("name", "attribute", "value", "told"),
    [
        ("VariableIntent", "VariableType", None, "VariableIntent without VariableType"),
        ("Media", "MediaType", None, "Media without MediaType"),
        ("PlacedObject", "CTM", "1 0 0 1 0", "PlacedObject/@CTM has 1 0 0 1 0"),
        ("Component", "MediaRef", "Other", "Component/@MediaRef leads nowhere: Other"),
        ("SurfaceColor", "Surface", "Both", "SurfaceColor/@Surface is Both"),
        ("Part", "Separation", "a/b", "Part/@Separation is no NMTOKEN: a/b"),
        ("ResourceSet", "Name", "Ink", "ResourceSet Ink holds none"),
    ],
)
def test_the_rules_catch_a_broken_ticket(name: str, attribute: str, value: str | None, told: str) -> None:
    root = read(TICKET)
    element = one(root, name)
    element.attrib.pop(attribute, None)
    if value is not None:
        element.set(attribute, value)
    assert told in faults(root)


def test_what_it_says() -> None:
    root = read(TICKET)
    assert (root.get("JobID"), root.get("DescriptiveName")) == ("Theatre-voucher-autumn-2027", TICKET.job)
    assert one(root, "Header").get("Time") == "2027-03-09T08:00:00Z"
    assert one(root, "Product").get("Amount") == "100000"
    assert one(root, "LayoutIntent").attrib == {
        "Bleed": "18",
        "FinishedDimensions": "360 288 0",
        "Pages": "2",
        "Sides": "TwoSidedHeadToHead",
    }
    colours = [(surface.get("Surface"), surface.get("ColorsUsed")) for surface in every(root, "SurfaceColor")]
    assert colours == [("Front", "Cyan Magenta Yellow Black Clear.Coat"), ("Back", "Black")]
    media = one(root, "Media").attrib
    # 0.004 in is 101.6 µm; the rest in points and g/m².
    assert (media["Thickness"], media["Weight"], media["Dimension"]) == ("101.6", "74", "1296 0")
    assert (media["RollDiameter"], media["InnerCoreDiameter"]) == ("3600", "216")
    files = [(spec.get("URL"), spec.get("FileSize")) for spec in every(root, "FileSpec")]
    assert files == [("sheets-001.pdf", "1000000"), ("sheets%202.pdf", None)]
    assert [hashed.get("IDValue") for hashed in every(root, "GeneralID")] == [
        "ab" * 32,
        "cd" * 32,
        "the last printed frame comes off first, left of the front leading, face out",
    ]
    assert [run.get("Pages") for run in every(root, "RunList")] == ["0 15999", "0 17333"]
    looks = {colour.get("ActualColorName"): colour.get("CMYK") for colour in every(root, "Color")}
    assert looks["Clear Coat"] == "0 1 0.5 0"
    assert looks["Yellow"] == "0 0 1 0"
    # 16,667 ft at 60 m a minute: 84.668 minutes.
    assert one(root, "NodeInfo").get("TotalDuration") == "PT5080S"
    assert one(root, "PartAmount").get("Amount") == "16667"


@pytest.mark.parametrize("turn", [0, 90, 180, 270])
def test_positions_take_the_trim_to_its_cell(turn: Turn) -> None:
    web = replace(WEB, turn=turn, piece=(6000, 4800) if turn in (0, 180) else (4800, 6000))
    root = read(replace(TICKET, web=web))
    cells = {f"Front.Lane{cell.lane}.Along{cell.along}": cell for cell in web.cells()}
    placed = every(root, "PlacedObject")
    assert len(placed) == 12
    for element in placed:
        trim, page = ([float(number) for number in element.attrib[key].split()] for key in ("TrimCTM", "CTM"))
        corners = [apply(trim, point) for point in ((0.0, 0.0), (360.0, 288.0))]
        # The same corners on the piece's page lie 18 pt further in.
        assert [apply(page, point) for point in ((18.0, 18.0), (378.0, 306.0))] == corners
        if (cell := cells.get(element.attrib["ID"])) is not None:
            assert box(corners) == pytest.approx([number * 0.06 for number in edges(cell.trim)])
            clip = [float(number) for number in element.attrib["ClipBox"].split()]
            assert clip == pytest.approx([number * 0.06 for number in edges(cell.area)])


def apply(matrix: list[float], point: tuple[float, float]) -> tuple[float, float]:
    a, b, c, d, e, f = matrix
    return round(a * point[0] + c * point[1] + e, 6), round(b * point[0] + d * point[1] + f, 6)


def box(corners: list[tuple[float, float]]) -> list[float]:
    (x0, y0), (x1, y1) = corners
    return [min(x0, x1), min(y0, y1), max(x0, x1), max(y0, y1)]


def edges(area: tuple[int, int, int, int]) -> list[int]:
    x, y, width, height = area
    return [x, y, x + width, y + height]


@given(st.text(max_size=30))
def test_any_job_name_becomes_a_token(job: str) -> None:
    assert NMTOKEN.fullmatch(job_id(job))
    assert read(replace(TICKET, job=job)).tag == f"{{{NAMESPACE}}}XJDF"


@given(*[st.from_regex(r"[A-Za-z][A-Za-z0-9 _-]{0,39}", fullmatch=True)] * 2)
def test_two_plates_never_share_a_token(one_plate: str, other: str) -> None:
    assert NMTOKEN.fullmatch(separation(one_plate))
    assert (separation(one_plate) == separation(other)) == (one_plate == other)


def test_a_plate_without_a_colour_is_our_fault() -> None:
    with pytest.raises(OurBug, match="plates without a colour in the ticket: Gold"):
        write_ticket(replace(TICKET, back=("Gold",)))

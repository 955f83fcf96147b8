"""The press ticket: XJDF 2.x of CIP4, one job, as the press and finishing line need it.

Lives here: elements and attributes.  Not here: what they are worth (`web`, `order`, `stock`).

Facts: STANDARDS §8 and the published schema's names, order and types.  Lengths are in points, paper weight in g/m²,
thickness in µm; a plate's name is an NMTOKEN, its spelling is in ActualColorName.  The files are imposed already, so
the ticket asks for printing only, and the layout's positions are told without asking for them to be applied. Of
several presses each has a ticket, which is a part of the job (JobPartID).  How the roll is wound has no place that is
sure (from memory), so it is told as a GeneralID.  FileSpec/@CheckSum is left out, because XJDF means MD5 by it (from
memory); the SHA-256 is a GeneralID.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import NamedTuple
from urllib.parse import quote
from xml.etree import ElementTree as ET

from vdp.errors import OurBug
from vdp.marks import PROCESS
from vdp.press.backs import Backs, Heads, back_cell, back_turn
from vdp.press.stock import Paper, Usage
from vdp.press.web import Cell, Turn, Web
from vdp.press.winding import Winding
from vdp.press.xmltext import carried, document
from vdp.units import MM_PER_INCH, POINTS_PER_INCH, points

NAMESPACE = "http://www.CIP4.org/JDFSchema_2_0"
_PROCESSES = "Interpreting Rendering DigitalPrinting"
_PROCESS_LOOKS = {name: tuple(float(index == at) for at in range(4)) for index, name in enumerate(PROCESS)}
_MICROMETRES_PER_POINT = 1000 * float(MM_PER_INCH) / POINTS_PER_INCH


class PrintFile(NamedTuple):
    """A finished file: its name beside the ticket, SHA-256 in hex, bytes and pages."""

    name: str
    sha256: str
    size: int
    pages: int


@dataclass(frozen=True, slots=True)
class Ticket:
    """Everything the ticket says.

    `trim` and `bleed` of a piece's own page in points; `amount` pieces; `front` and `back` name the plates that a
    piece uses there, `plates` those of the sheets, whose marks use every one; `press` which of several presses, whose
    `first` roll it is; `spots` gives each spot plate's look as CMYK of 0..1; `files` in printing order; `made` when,
    as ISO 8601, or None.
    """

    job: str
    amount: int
    trim: tuple[float, float]
    bleed: float
    web: Web
    backs: Backs
    heads: Heads
    paper: Paper
    usage: Usage
    front: Sequence[str]
    back: Sequence[str]
    plates: Sequence[str]
    files: Sequence[PrintFile]
    winding: Winding
    press: str = ""
    first: int = 1
    spots: Mapping[str, tuple[float, float, float, float]] = field(default_factory=dict)
    made: str | None = None


def write_ticket(ticket: Ticket) -> bytes:
    """The ticket as UTF-8 XML; the same ticket gives the same bytes."""
    name = carried(ticket.job)
    root = ET.Element("XJDF", {"xmlns": NAMESPACE, "JobID": job_id(ticket.job), "Types": _PROCESSES, "Version": "2.2"})
    root.set("DescriptiveName", name)
    if ticket.press:
        root.set("JobPartID", ticket.press)
    if ticket.made is not None:
        created = ET.SubElement(ET.SubElement(root, "AuditPool"), "AuditCreated")
        ET.SubElement(created, "Header", {"AgentName": "vdp", "DeviceID": "vdp", "Time": ticket.made})
    _product(ET.SubElement(root, "ProductList"), ticket, name)
    _node(root, ticket)
    _run_list(root, ticket.files, ticket.first)
    _media(root, ticket.paper)
    _colours(root, ticket)
    _layout(root, ticket)
    _output(root, ticket)
    return document(root)


def job_id(job: str) -> str:
    """A job's name as the NMTOKEN that JobID must be."""
    return re.sub(r"[^A-Za-z0-9._-]+", "-", job).strip("-") or "job"


def separation(plate: str) -> str:
    """A plate's name as an NMTOKEN; a job's plate names have no full stop, so two names never become one."""
    return plate.replace(" ", ".")


def _product(parent: ET.Element, ticket: Ticket, name: str) -> None:
    attributes = {"Amount": str(ticket.amount), "DescriptiveName": name, "ID": "Piece", "IsRoot": "true"}
    product = ET.SubElement(parent, "Product", attributes)
    sides = {"head_to_head": "TwoSidedHeadToHead", "head_to_foot": "TwoSidedHeadToFoot"}[ticket.heads]
    size = {"Bleed": _numbers(ticket.bleed), "FinishedDimensions": _numbers(*ticket.trim, 0)}
    _intent(product, "LayoutIntent", size | {"Pages": "2", "Sides": sides})
    colour = _intent(product, "ColorIntent", {})
    for surface, plates in (("Front", ticket.front), ("Back", ticket.back)):
        ET.SubElement(colour, "SurfaceColor", Surface=surface, ColorsUsed=_names(plates))
    grams, thick = _numbers(ticket.paper.grams), _numbers(ticket.paper.caliper * _MICROMETRES_PER_POINT)
    _intent(product, "MediaIntent", {"MediaType": "Paper", "Thickness": thick, "Weight": grams})
    used = {"ColorsUsedFront": _names(ticket.front), "ColorsUsedBack": _names(ticket.back)}
    variable = {"VariableType": "Area", "VariableQuality": "Full", "NumberOfCopies": "1"}
    _intent(product, "VariableIntent", used | variable)


def _intent(product: ET.Element, name: str, attributes: dict[str, str]) -> ET.Element:
    return ET.SubElement(ET.SubElement(product, "Intent", Name=name), name, attributes)


def _resource(root: ET.Element, name: str, usage: str | None, **attributes: str) -> ET.Element:
    """A resource in the set of that name, which is opened when the last set is another one."""
    if root[-1].get("Name") != name:
        ET.SubElement(root, "ResourceSet", {"Name": name} | ({"Usage": usage} if usage else {}))
    return ET.SubElement(root[-1], "Resource", attributes)


def _node(root: ET.Element, ticket: Ticket) -> None:
    seconds = round(ticket.usage.minutes * 60)
    ET.SubElement(_resource(root, "NodeInfo", "Input"), "NodeInfo", Status="Waiting", TotalDuration=f"PT{seconds}S")


def _run_list(root: ET.Element, files: Sequence[PrintFile], first: int) -> None:
    for number, file in enumerate(files, start=first):
        resource = _resource(root, "RunList", "Input")
        ET.SubElement(resource, "GeneralID", IDUsage="SHA-256", IDValue=file.sha256)
        ET.SubElement(resource, "Part", Run=f"Roll{number}")
        run = ET.SubElement(resource, "RunList", NPage=str(file.pages), Pages=f"0 {file.pages - 1}")
        about = {"FileSize": str(file.size)} if file.size < 2**31 else {}  # the schema's integer has 32 bits
        ET.SubElement(run, "FileSpec", {"MimeType": "application/pdf", "URL": quote(file.name)} | about)


def _media(root: ET.Element, paper: Paper) -> None:
    """Of a roll, Dimension is its width; its length follows from the diameters (0: not stated; from memory)."""
    attributes = {
        "Dimension": _numbers(paper.width, 0),
        "InnerCoreDiameter": _numbers(paper.core),
        "MediaType": "Paper",
        "MediaUnit": "Roll",
        "RollDiameter": _numbers(paper.diameter),
        "Thickness": _numbers(paper.caliper * _MICROMETRES_PER_POINT),
        "Weight": _numbers(paper.grams),
    }
    ET.SubElement(_resource(root, "Media", "Input", ID="Paper"), "Media", attributes)


def _colours(root: ET.Element, ticket: Ticket) -> None:
    looks: dict[str, tuple[float, ...]] = {**_PROCESS_LOOKS, **ticket.spots}
    used = list(dict.fromkeys([*ticket.plates, *ticket.front, *ticket.back]))
    strange = [plate for plate in used if plate not in looks]
    if strange:
        raise OurBug(f"plates without a colour in the ticket: {', '.join(strange)}")
    for plate in used:
        resource = _resource(root, "Color", "Input")
        ET.SubElement(resource, "Part", Separation=separation(plate))
        ET.SubElement(resource, "Color", ActualColorName=plate, CMYK=_numbers(*looks[plate]))
    attributes = {"ColorantOrder": _names(used), "ColorantParams": _names(used), "ProcessColorModel": "DeviceCMYK"}
    ET.SubElement(_resource(root, "ColorantControl", "Input"), "ColorantControl", attributes)


def _layout(root: ET.Element, ticket: Ticket) -> None:
    web = ticket.web
    contents = _numbers(0, 0, _length(ticket, web.width), _length(ticket, web.frame))
    turns = {"Front": web.turn, "Back": back_turn(web.turn, ticket.heads)}
    for side, turn in turns.items():
        resource = _resource(root, "Layout", None)
        ET.SubElement(resource, "Part", Side=side)
        layout = ET.SubElement(resource, "Layout", {"PaperRef": "Paper", "SurfaceContentsBox": contents})
        for front in web.cells():
            cell = front if side == "Front" else back_cell(web, front.lane, front.along, ticket.backs)
            _placed(layout, ticket, cell, side, turn)


def _placed(layout: ET.Element, ticket: Ticket, cell: Cell, side: str, turn: Turn) -> None:
    """CTM takes the piece's page (trim and bleed, origin lower left) to the frame, TrimCTM its trim alone."""
    x, y, width, height = cell.area
    attributes = {
        "ClipBox": _numbers(*(_length(ticket, value) for value in (x, y, x + width, y + height))),
        "CTM": _matrix(ticket, cell, turn, ticket.bleed),
        "ID": f"{side}.Lane{cell.lane}.Along{cell.along}",
        "TrimCTM": _matrix(ticket, cell, turn, 0.0),
        "TrimSize": _numbers(*ticket.trim),
    }
    ET.SubElement(ET.SubElement(layout, "PlacedObject", attributes), "ContentObject")


def _matrix(ticket: Ticket, cell: Cell, turn: Turn, bleed: float) -> str:
    """Turn counter-clockwise, then move so that the trim fills the cell; `bleed` is what lies around the trim."""
    x, y, width, height = (_length(ticket, value) for value in cell.trim)
    cos, sin = {0: (1, 0), 90: (0, 1), 180: (-1, 0), 270: (0, -1)}[turn]
    east = x + (width if cos < 0 or sin > 0 else 0)
    north = y + (height if cos < 0 or sin < 0 else 0)
    return _numbers(cos, sin, -sin, cos, east - bleed * (cos - sin), north - bleed * (sin + cos))


def _output(root: ET.Element, ticket: Ticket) -> None:
    resource = _resource(root, "Component", "Output")
    ET.SubElement(ET.SubElement(resource, "AmountPool"), "PartAmount", Amount=str(ticket.usage.frames))
    ET.SubElement(resource, "GeneralID", IDUsage="Winding", IDValue=carried(ticket.winding.said))
    size = _numbers(_length(ticket, ticket.web.width), _length(ticket, ticket.web.frame), 0)
    ET.SubElement(resource, "Component", Dimensions=size, MediaRef="Paper", SurfaceCount="2")


def _length(ticket: Ticket, n_dots: int) -> float:
    return points(n_dots, ticket.web.dpi)


def _names(plates: Sequence[str]) -> str:
    return " ".join(separation(plate) for plate in plates)


def _numbers(*values: float) -> str:
    """Numbers as XJDF lists have them: plain decimals, to a millionth."""
    return " ".join(_number(value) for value in values)


def _number(value: float) -> str:
    text = f"{value:.6f}".rstrip("0").rstrip(".")
    return "0" if text == "-0" else text

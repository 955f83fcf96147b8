"""The frozen shape of a layout file: the kinds of items, with every default and every rule that needs one value only.

Lives here: pydantic models.  Not here: reading files, line numbers (`load`), templates (`template`), rules that need
other files (`plan`).

All lengths are float points.  Places in a layout are measured from the trim's upper left corner, y downwards.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Annotated, Any, Literal, get_args

from pydantic import BeforeValidator, Discriminator, Field, Tag, ValidationInfo, field_validator

from vdp.job.finishing import FinishModel
from vdp.job.values import Length, Name, Percent, PlateName, PositiveLength, Turn, Wording, length
from vdp.records.spec import Model


class Placed(Model):
    """What every item has: a name for messages, an ink, a turn and a condition (a Jinja2 expression)."""

    name: Name | None = None
    plate: PlateName | None = None
    colour: tuple[Percent, Percent, Percent, Percent] | None = None
    tint: Percent = 100
    turn: Turn = 0
    when: str | None = None
    #: Process inks knock out what lies under them unless this says otherwise; spot plates always overprint.
    overprint: Annotated[bool, Field(validate_default=False)] = False

    def called(self, side: str, index: int) -> str:
        """Its name, or what messages and manifests call it where it has none: its side and its place there, from 1.
        `index` counts from 0."""
        return self.name or f"{side}-{index + 1}"

    @field_validator("overprint")
    @classmethod
    def _not_white(cls, value: bool, info: ValidationInfo) -> bool:
        if value and (info.data.get("colour") == (0, 0, 0, 0) or info.data.get("tint") == 0):
            raise ValueError("white that overprints vanishes: take 'overprint' away, or give it a colour")
        return value

    @field_validator("colour")
    @classmethod
    def _one_ink(cls, value: Any, info: ValidationInfo) -> Any:
        if value is not None and info.data.get("plate") is not None:
            raise ValueError("state a plate or a colour, not both")
        return value


Area = tuple[Length, Length, PositiveLength, PositiveLength]
Point = tuple[Length, Length]


#: What is done about small type whose letters lose parts or holes at the press's resolution.
Losses = Literal["refuse", "accept"]


class Typed(Placed):
    """Items that set type.  `box` is x, y, width, height; text shrinks from `size` to `least` before it is overfull."""

    box: Area
    face: Name = "sans"
    size: PositiveLength = 10.0
    least: PositiveLength | None = None
    leading: PositiveLength | None = None
    align: Literal["start", "centre", "end", "left", "right"] = "start"
    valign: Literal["top", "middle", "bottom"] = "top"
    one_line: bool = False
    losses: Losses = "refuse"

    @field_validator("least")
    @classmethod
    def _sizes(cls, value: float | None, info: ValidationInfo) -> float | None:
        size = info.data.get("size")
        if value is not None and size is not None and value > size:
            raise ValueError(f"'least' ({value:g} pt) is larger than 'size' ({size:g} pt)")
        return value


class TextItem(Typed):
    text: Wording


class NumberItem(Typed):
    """A serial of the named series, set as type and read back by the checks."""

    number: Name
    one_line: bool = True


class ArtItem(Placed):
    """Fixed artwork: a page of a PDF, or a picture.  Its trim lies on the layout's trim unless `box`."""

    art: str
    page: Annotated[int, Field(ge=1)] = 1
    box: Area | None = None


class ImageItem(Placed):
    """A picture whose file name is a template over the record."""

    image: str
    box: Area
    fit: Literal["fill", "inside"] = "fill"


#: Symbologies of bars, whose height the layout states, and of modules, whose height follows.
LinearName = Literal["code128", "gs1-128", "s10", "code39", "itf", "itf14", "ean13", "ean8", "upca", "upce"]
MatrixName = Literal["qr", "gs1-qr", "micro-qr", "datamatrix", "gs1-datamatrix", "pdf417", "aztec"]
#: Postal codes of bars of four kinds, whose size the post fixes.
StateName = Literal["imb", "rm4scc", "kix"]
BarcodeName = Literal[LinearName, MatrixName, StateName]
LINEAR: frozenset[str] = frozenset(get_args(LinearName))
FOUR_STATE: frozenset[str] = frozenset(get_args(StateName))
#: Codes whose digits stand between longer guard bars.
RETAIL: frozenset[str] = frozenset({"ean13", "ean8", "upca", "upce"})
#: Keys that only some symbologies know.
ONLY_FOR: Mapping[str, tuple[str, ...]] = {
    "level": ("qr", "gs1-qr", "micro-qr"),
    "version": ("qr", "gs1-qr", "micro-qr"),
    "densest": ("qr",),
    "link": ("qr", "datamatrix"),
    "security": ("pdf417",),
    "columns": ("pdf417",),
    "ratio": ("code39", "itf"),
    "check": ("code39",),
    "rectangle": ("datamatrix", "gs1-datamatrix"),
}


def _both_ways(value: Any, info: ValidationInfo) -> Any:
    """Dots written once are for both directions of a matrix, and for the widths of bars."""
    if not isinstance(value, int) or isinstance(value, bool):
        return value
    return (value, 0 if info.data.get("barcode") in LINEAR else value)


Dots = Annotated[int, Field(ge=0, le=40)]


class BarcodeItem(Placed):
    """A symbol.  `at` is the upper left corner of the symbol with its quiet zone; `x` the X-dimension.

    `room` is the largest area it may take (width, height with quiet zone); `height` the bar height of a linear code.
    `use` is what it is for (retail, distribution, logistics), where a standard gives the X-dimension a range.
    `reads_as: light` is for an ink that shines: what is printed looks light on dark.  Four-state codes take no `x`.
    GS1 symbologies take element strings in brackets: (01)09506000134352(10)ABC.  With `link`, an address, so do qr and
    datamatrix, which then carry a GS1 Digital Link.  `densest`: a QR in the segments that take the fewest bits.
    `reduce`: dots by which every dark stretch is narrower, and lower, than its modules, so that toner growth makes them
    whole: across and down the symbol as it stands before `turn`.
    `human_text` sets what a symbol says for people along its bars, in `human_face` of `human_size`.
    """

    barcode: BarcodeName
    data: str
    at: Point
    x: Annotated[PositiveLength | None, Field(validate_default=True)] = None
    height: Annotated[PositiveLength | None, Field(validate_default=True)] = None
    level: Literal["L", "M", "Q", "H"] = "M"
    version: Annotated[int, Field(ge=1, le=40)] | None = None
    security: Annotated[int, Field(ge=0, le=8)] = 2
    columns: Annotated[int, Field(ge=1, le=30)] = 4
    ratio: Literal[2, 3] = 3
    check: bool = False
    rectangle: bool = False
    densest: bool = False
    link: Annotated[str, Field(min_length=1, max_length=500)] | None = None
    use: str | None = None
    reads_as: Literal["dark", "light"] = "dark"
    human_text: Literal["none", "below", "above"] = "none"
    human_face: Name = "mono"
    human_size: PositiveLength = 8.0
    room: tuple[PositiveLength, PositiveLength] | None = None
    reduce: Annotated[tuple[Dots, Dots], BeforeValidator(_both_ways)] = (0, 0)

    @field_validator("reduce")
    @classmethod
    def _reduced(cls, value: tuple[int, int], info: ValidationInfo) -> tuple[int, int]:
        kind = info.data.get("barcode")
        if kind in FOUR_STATE and any(value):
            raise ValueError(f"the post fixes the size of {kind}: take 'reduce' away")
        if kind in LINEAR and value[1]:
            raise ValueError(f"{kind} is made of bars, which are reduced across alone: write reduce: {value[0]}")
        return value

    @field_validator("x")
    @classmethod
    def _x(cls, value: float | None, info: ValidationInfo) -> float | None:
        kind = info.data.get("barcode")
        if kind in FOUR_STATE and value is not None:
            raise ValueError(f"the post fixes the size of {kind}: take 'x' away")
        if kind is not None and kind not in FOUR_STATE and value is None:
            raise ValueError(f"{kind} needs its X-dimension: write x: 0.508 mm")
        return value

    @field_validator("height")
    @classmethod
    def _height(cls, value: float | None, info: ValidationInfo) -> float | None:
        kind = info.data.get("barcode")
        if kind in LINEAR and value is None:
            raise ValueError(f"{kind} needs the height of its bars: write height: 12 mm")
        if kind in FOUR_STATE and value is not None:
            raise ValueError(f"the post fixes the size of {kind}: take 'height' away")
        if kind is not None and kind not in LINEAR and value is not None:
            raise ValueError(f"{kind} is as high as its modules make it: 'height' is for codes of bars")
        return value

    @field_validator("human_text")
    @classmethod
    def _human_text(cls, value: str, info: ValidationInfo) -> str:
        kind = str(info.data.get("barcode"))
        if value != "none" and kind not in LINEAR:
            raise ValueError(f"text for people is set along codes of bars, not beside a {kind}: give it a text item")
        if value == "above" and kind in RETAIL:
            raise ValueError(f"the digits of a {kind} stand below its bars: write human_text: below")
        return value

    @field_validator(*ONLY_FOR)
    @classmethod
    def _only_for(cls, value: Any, info: ValidationInfo) -> Any:
        kind, name = info.data.get("barcode"), str(info.field_name)
        if kind is not None and kind not in ONLY_FOR[name] and value is not None:
            known = ONLY_FOR[name]
            listed = known[0] if len(known) == 1 else f"{', '.join(known[:-1])} and {known[-1]}"
            raise ValueError(f"'{name}' is for {listed}, not for {kind}")
        return value


class MicrotextItem(Placed):
    """Lines of repeating small type that fill a box."""

    microtext: str
    box: Area
    face: Name = "sans"
    size: Annotated[float, BeforeValidator(length), Field(ge=0.5)] = 1.0
    leading: PositiveLength | None = None
    reversed: bool = False
    losses: Losses = "refuse"
    #: Holds it to ICAO's bound for microprint: by the height of its letters, or by its type size.
    microprint: Literal["letters", "type"] | None = None


class LineItem(Placed):
    """A straight line; the value is its weight."""

    line: PositiveLength
    start: Point
    end: Point


class BoxItem(Placed):
    """A filled area, or a frame drawn inside the area's edge with `weight`."""

    box: Area
    weight: PositiveLength | None = None


#: The key that tells an item's kind → its model.  `box` alone (no other kind key) is a BoxItem.
KINDS: dict[str, type[Placed]] = {
    "art": ArtItem,
    "text": TextItem,
    "number": NumberItem,
    "image": ImageItem,
    "barcode": BarcodeItem,
    "microtext": MicrotextItem,
    "line": LineItem,
    "box": BoxItem,
}


def kind_of(item: Any) -> str:
    """The kind of an item as written (a mapping or a model).  Raises ValueError when it has no kind key, or two."""
    if isinstance(item, Placed):
        return next(kind for kind, model in KINDS.items() if type(item) is model)
    if not isinstance(item, Mapping):
        raise ValueError(f"an item is a mapping with one of the keys {', '.join(KINDS)}")
    found = [kind for kind in KINDS if kind in item and kind != "box"]
    if len(found) > 1:
        raise ValueError(f"an item is one thing, this one has the keys {' and '.join(found)}")
    if not found and "box" not in item:
        raise ValueError(f"nothing says what this item is: it needs one of the keys {', '.join(KINDS)}")
    return found[0] if found else "box"


def _one_kind(item: Any) -> Any:
    kind_of(item)
    return item


def _tag(item: Any) -> str:
    return f"<{kind_of(item)}>"


#: Any item, told by its kind key, so that what is wrong with it is said of that kind alone.
Item = Annotated[
    Annotated[ArtItem, Tag("<art>")]
    | Annotated[TextItem, Tag("<text>")]
    | Annotated[NumberItem, Tag("<number>")]
    | Annotated[ImageItem, Tag("<image>")]
    | Annotated[BarcodeItem, Tag("<barcode>")]
    | Annotated[MicrotextItem, Tag("<microtext>")]
    | Annotated[LineItem, Tag("<line>")]
    | Annotated[BoxItem, Tag("<box>")],
    Discriminator(_tag),
    BeforeValidator(_one_kind),
]


class LayoutModel(Model):
    """A layout file: trim size, bleed, and the items of each side in painting order (first is undermost)."""

    trim: tuple[PositiveLength, PositiveLength]
    bleed: Length = 0.0
    front: tuple[Item, ...]
    back: tuple[Item, ...]
    finish: FinishModel = FinishModel()

    def named(self) -> Iterator[tuple[str, Item]]:
        """Every item of the front and of the back, with what it is called."""
        for side, items in (("front", self.front), ("back", self.back)):
            for index, item in enumerate(items):
                yield item.called(side, index), item

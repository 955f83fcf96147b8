"""One thing that is wrong with artwork, and the codes by which they are known."""

from __future__ import annotations

from dataclasses import dataclass

from vdp.verify.state import Area

#: What makes artwork unusable, by code.
ERRORS: dict[str, str] = {
    "art-unreadable": "artwork, or a part of it, cannot be read or judged",
    "art-boxes": "the boxes of an artwork page contradict one another",
    "art-bleed": "artwork has less bleed than the layout",
    "art-font": "a font of the artwork is not embedded",
    "art-picture-coarse": "a picture has too few pixels for its size",
    "art-colour": "something is painted in RGB or in a colour that no profile defines",
    "art-spot-near": "a spot of the artwork is named almost like a plate of the job",
    "art-spot-foreign": "a spot of the artwork is no plate of the job",
    "art-hairline": "a line is thinner than two dots of the press",
    "art-white-over": "something white overprints, so it will not be seen",
    "art-black-text": "black text is not on Black alone",
    "art-coverage": "more toner lies on one place than the job allows",
    "art-spot-see-through": "a spot is painted transparently, which turns it into process colour",
    "art-script": "the file carries JavaScript",
    "art-action": "the file acts when it is opened or printed",
    "art-attachment": "the file carries other files",
    "art-not-judged": "the artwork holds what no check of the finished pages can judge, such as live transparency",
}
#: What the operator should know, by code.
CAUTIONS: dict[str, str] = {
    "art-no-trim": "an artwork page states no TrimBox; its whole page is taken to be the trim",
    "art-picture-soft": "a picture has fewer pixels than print needs to look sharp",
    "art-spot-shared": "the artwork prints on a spot plate of the job",
    "art-layers": "the artwork has layers; those that are shown are printed",
    "art-colour-converted": "RGB of a picture is converted to the press profile, as the job says",
    "art-type-three": "a Type 3 font: its glyphs are drawings and are not judged as type",
    "art-repaired": "the file was damaged and could be mended while reading",
}


@dataclass(frozen=True, slots=True)
class Concern:
    """`page` is 1-based, 0 for the whole file; `area` in points from the page's lower left corner, None for all."""

    code: str
    page: int
    area: Area | None
    message: str

    @property
    def grave(self) -> bool:
        """Whether the artwork cannot be used as it is."""
        return self.code in ERRORS


@dataclass(frozen=True, slots=True)
class Limits:
    """What the job allows: pixels an inch under which a picture is coarse or soft (one-bit pictures apart), dots of the
    thinnest line, percent of toner on one place, and whether RGB pictures will be converted."""

    ppi_least: float = 150.0
    ppi_good: float = 250.0
    line_dots: int = 2
    coverage: float = 280.0
    rgb_converted: bool = False


@dataclass(frozen=True, slots=True)
class Wanted:
    """What a page must suit: the job's spots and resolution; `bleed` in points where it lies trim on trim."""

    spots: tuple[str, ...]
    dpi: int
    bleed: float | None
    limits: Limits = Limits()

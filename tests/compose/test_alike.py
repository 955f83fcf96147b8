"""What is proved of serials that differ in figures alone is what trying each of them says."""

from __future__ import annotations

import random
from collections.abc import Mapping
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.small import FRONT, plan_of, write_job
from vdp.barcode import carriers
from vdp.compose.fit import Fitting, fit
from vdp.compose.small import SmallType
from vdp.errors import RowRefused
from vdp.job.context import Context
from vdp.job.faces import builtin_faces
from vdp.plan.build import Plan
from vdp.text import Frame
from vdp.text.faces import Faces
from vdp.text.shape import Shaper
from vdp.text.spell import Speller

ALIKE = """\
trim: [60 mm, 40 mm]
bleed: 2 mm
front:
  - {{name: number, number: voucher, box: [4 mm, 4 mm, {wide} mm, 5 mm], size: 9 pt, align: left}}
  - {{name: hello, text: "For {{{{ name }}}}", box: [4 mm, 10 mm, 50 mm, 5 mm], size: 9 pt}}
  - {{name: secret, text: "GENUINE {{{{ series.voucher }}}}", box: [4 mm, 16 mm, 50 mm, 5 mm], size: 9 pt, align: left}}
  - {{name: bars, barcode: code128, data: "{{{{ series.voucher }}}}", at: [3 mm, 22 mm], x: 0.254 mm, height: 6 mm}}
  - {{name: fine, microtext: "{{{{ series.voucher }}}} LILT TILL", box: [4 mm, 32 mm, 50 mm, 1 mm], {fine}}}
back: []
"""


def alike(tmp_path: Path, wide: float = 50, fine: str = "size: 2 pt, face: mono") -> Plan:
    return plan_of(write_job(tmp_path, layout=ALIKE.format(wide=wide, fine=fine)))[2]


def context(plan: Plan, serial: str, language: str = "en") -> Context:
    return plan.job.context({"name": "Anna", "lang": language}, {"voucher": serial}, 2)


def answer(
    fitting: Fitting | None, plan: Plan, small: SmallType, seen: Context
) -> tuple[Mapping[str, int], bool] | tuple[str, ...]:
    """What trying gives; `fitting` None asks one who never saw another record."""
    try:
        found = fit(plan, seen, lambda _: (1, 1), small) if fitting is None else fitting.fit(seen)
    except RowRefused as refused:
        return refused.reasons
    return found.needs, found.columns


def both(plan: Plan, serials: list[str]) -> list[bool]:
    """Whether each serial is accepted; one who tries them all must say of each what one who sees only it says."""
    small, other = (SmallType(plan.job, plan.setter.faces) for _ in range(2))
    fitting = Fitting(plan, lambda _: (1, 1), small)
    taken = []
    for serial in serials:
        for language in ("en", "el"):
            seen = context(plan, serial, language)
            found = answer(fitting, plan, small, seen)
            assert found == answer(None, plan, other, seen), serial
            taken.append(isinstance(found[0], Mapping))
    return taken


def serials(count: int, shape: str = "V####") -> list[str]:
    chance = random.Random(7)
    return ["".join(chance.choice("0123456789") if char == "#" else char for char in shape) for _ in range(count)]


def test_records_alike_are_tried_once(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    plan = alike(tmp_path)
    tried: list[str] = []
    usual = Frame.check

    def check(self: Frame, text: str) -> bool:
        tried.append(text)
        return usual(self, text)

    monkeypatch.setattr(Frame, "check", check)
    fitting = Fitting(plan, lambda _: (1, 1), SmallType(plan.job, plan.setter.faces))
    for serial in serials(200):
        fitting.fit(context(plan, serial))
    numbers = [text for text in tried if text.startswith("V")]
    assert 0 < len(numbers) < 50, "the number is not measured for every record"
    assert tried.count("For Anna") == 200, "what a record brings itself is tried with every record"


def test_each_is_told_what_it_would_be_told_alone(tmp_path: Path) -> None:
    assert all(both(alike(tmp_path), serials(80) + serials(40, "V###-#") + serials(20, "AO##")))


def test_a_box_that_is_too_narrow_proves_nothing(tmp_path: Path) -> None:
    assert not any(both(alike(tmp_path, wide=8), serials(40)))


def test_figures_of_unlike_width_are_told_apart(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """No figure of the faces at hand differs in width, so that one is made narrower."""
    usual = Speller.measure

    def narrow(self: Speller, pair: tuple[str, str]) -> float:
        return usual(self, pair) - (500 if pair[0] == "1" else 0)

    monkeypatch.setattr(Speller, "measure", narrow)
    # Five letters of 9 pt: with ones 4.4 mm, with other figures more than 9.
    taken = both(alike(tmp_path, wide=7), ["V1111"] * 40 + ["V8888", "V1811", "V1111"])
    assert taken == [True] * 80 + [False, False] + [True] * 4


def loses(small: SmallType, plan: Plan, figure: str) -> bool:
    """Whether a figure of the microtext is refused."""
    try:
        small.note("fine", plan.setter.shape(figure, "mono", "en"), 0.8)
    except RowRefused:
        return True
    return False


def test_a_figure_that_small_type_loses_is_refused_however_many_others_went_before(tmp_path: Path) -> None:
    plan = alike(tmp_path, fine="size: 0.8 pt, face: mono")
    small = SmallType(plan.job, plan.setter.faces)
    lost = {figure: loses(small, plan, figure) for figure in "0123456789"}
    assert {True, False} == set(lost.values())
    held = [figure for figure in lost if not lost[figure]]
    fitting = Fitting(plan, lambda _: (1, 1), small)
    for figure in held * 10:
        fitting.fit(context(plan, f"V{figure * 4}"))
    for figure, gone in lost.items():
        taken = isinstance(answer(fitting, plan, small, context(plan, f"V{figure * 4}"))[0], Mapping)
        assert taken is not gone, figure


def test_what_a_layout_accepts_is_warned_of_only_where_it_is_set(tmp_path: Path) -> None:
    plan = alike(tmp_path, fine="size: 0.7 pt, face: mono, losses: accept")
    few = SmallType(plan.job, plan.setter.faces)
    fitting = Fitting(plan, lambda _: (1, 1), few)
    for serial in ("V0000", "V6666") * 50:
        fitting.fit(context(plan, serial))
    lossy = "".join(warning.message for warning in few.warnings())
    assert "'6'" in lossy
    assert "'8'" not in lossy


def test_serials_with_letters_of_their_own_are_not_each_a_proof(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    plan = alike(tmp_path)
    attempts: list[Context] = []

    def holds(_: Fitting, seen: Context) -> bool:
        attempts.append(seen)
        return True

    monkeypatch.setattr(Fitting, "_holds", holds)
    fitting = Fitting(plan, lambda _: (1, 1))
    chance = random.Random(11)
    for _ in range(600):
        fitting.fit(context(plan, "".join(chance.choices("ABCDEFGHKLMNPRSTUVWXYZ", k=6))))
    assert 0 < len(attempts) < 300


def test_a_condition_or_a_field_keeps_a_step_out(tmp_path: Path) -> None:
    item = "{name: fine, text: '{{ series.voucher }}', when: \"lang == 'el'\", box: [4 mm, 4 mm, 9 mm, 4 mm]}"
    layout = f"{FRONT}back:\n  - {item}\n"
    plan = plan_of(write_job(tmp_path, layout=layout))[2]
    wide, fitting = "V" * 14, Fitting(plan, lambda _: (1, 1))
    for _ in range(20):
        fitting.fit(context(plan, wide))
    with pytest.raises(RowRefused, match="fine: "):
        fitting.fit(context(plan, wide, "el"))


FACES = Faces(builtin_faces())


@pytest.mark.parametrize("face", ["sans", "mono", "sans-bold"])
@given(text=st.text("AVT.,-/ 0123456789", min_size=1, max_size=12), data=st.data())
@settings(deadline=None)
def test_no_figures_are_broader(face: str, text: str, data: st.DataObject) -> None:
    speller = Shaper(FACES).speller(FACES.face(face).key, "Latn", "en")
    other = "".join(data.draw(st.sampled_from("0123456789")) if char in "0123456789" else char for char in text)
    assert speller.measured(other) <= speller.broadest(text)


@given(text=st.text("AZaz-/ .0123456789", min_size=1, max_size=40), data=st.data())
def test_needs_go_by_kinds_of_characters(text: str, data: st.DataObject) -> None:
    other = "".join(data.draw(st.sampled_from("0123456789")) if char in "0123456789" else char for char in text)
    for symbology in ("code128", "qr"):
        assert carriers.figures_alike(symbology, carriers.PLAIN)
        assert carriers.need(symbology, text) == carriers.need(symbology, other)


def test_codes_with_check_digits_are_none_of_them() -> None:
    assert not any(carriers.figures_alike(name, carriers.PLAIN) for name in ("ean13", "itf14", "imb", "s10", "upce"))

"""The first pass refuses with every reason, and says what size the symbols need."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.small import BACK, FRONT, plan_of, write_job
from vdp.compose.fit import Fit, fit
from vdp.errors import RowRefused
from vdp.plan.build import Plan
from vdp.plan.numbering import numbering_of


def probe(path: Path) -> tuple[int, int]:
    if path.suffix == ".bad":
        raise RowRefused((f"{path.name} is damaged",))
    return (30, 20)


def tried(plan: Plan, **values: str) -> Fit:
    record = {"name": "Anna", "lang": "en", **values}
    serials = {name: series.text(0) for name, series in numbering_of(plan.job, {}).items()}
    return fit(plan, plan.job.context(record, serials, 2), probe)


def refusals(plan: Plan, **values: str) -> tuple[str, ...]:
    with pytest.raises(RowRefused) as caught:
        tried(plan, **values)
    return caught.value.reasons


@pytest.fixture
def plan(tmp_path: Path) -> Plan:
    return plan_of(write_job(tmp_path))[2]


def test_a_good_record_tells_its_needs(plan: Plan) -> None:
    found = tried(plan)
    # 11 bytes at level M: version 1 holds 14 (ISO/IEC 18004 Table 7); 14 × 14 holds 5 alphanumerics (16022 Table 7).
    assert found.needs["square"] == 1
    assert found.needs["hidden"] in (12, 14)
    assert found.pictures == {}
    assert tried(plan, name="A rather longer name than that").needs["square"] == 3


def test_every_reason_is_told_and_names_its_item(plan: Plan) -> None:
    reasons = refusals(plan, name="Anna \U00013000 " + "x" * 60)
    assert any(reason.startswith("hello: ") for reason in reasons)
    assert any(reason.startswith("fine: ") for reason in reasons)
    assert any("U+13000" in reason for reason in reasons)


def test_a_missing_glyph_is_never_replaced(plan: Plan) -> None:
    assert any("U+13000" in reason for reason in refusals(plan, name="\U00013000"))


def test_a_language_without_wording_is_refused(plan: Plan) -> None:
    assert refusals(plan, lang="fi") == ("hello: no wording for language 'fi'",)


def test_text_that_cannot_fit_is_refused_with_figures(plan: Plan) -> None:
    (reason,) = [r for r in refusals(plan, name="Wide" * 30) if r.startswith("hello")]
    assert "mm" in reason


def test_a_payload_the_symbol_cannot_hold_is_refused(tmp_path: Path) -> None:
    plan = plan_of(
        write_job(tmp_path, layout=FRONT.replace('data: "{{ series.voucher }}"', 'data: "{{ name }}"') + BACK)
    )[2]
    assert any(reason.startswith("bars: ") for reason in refusals(plan, name="Νίκος"))


def test_an_empty_payload_is_refused(tmp_path: Path) -> None:
    plan = plan_of(
        write_job(tmp_path, layout=FRONT.replace('data: "{{ series.voucher }}"', 'data: "{{ name }}"') + BACK)
    )[2]
    assert "bars: the symbol would carry nothing" in refusals(plan, name="")


def test_a_symbol_too_large_for_its_room_is_refused_with_both_sizes(tmp_path: Path) -> None:
    layout = FRONT.replace("at: [38 mm, 6 mm],", "at: [38 mm, 6 mm], room: [15 mm, 15 mm],")
    plan = plan_of(write_job(tmp_path, layout=layout + BACK))[2]
    assert tried(plan).needs["square"] == 1
    (reason,) = refusals(plan, name="A rather long name")
    assert reason.startswith("square: the symbol is 16.76 × 16.76 mm")  # version 2: 33 modules of 24 dots


def test_a_fixed_version_is_a_limit(tmp_path: Path) -> None:
    layout = FRONT.replace("at: [38 mm, 6 mm],", "at: [38 mm, 6 mm], version: 1,")
    plan = plan_of(write_job(tmp_path, layout=layout + BACK))[2]
    assert "needs version 2, the layout fixes version 1" in refusals(plan, name="A rather long name")[0]


def test_a_condition_keeps_an_item_off(tmp_path: Path) -> None:
    layout = FRONT.replace("{name: square,", "{name: square, when: \"lang == 'el'\",")
    plan = plan_of(write_job(tmp_path, layout=layout + BACK))[2]
    assert "square" not in tried(plan).needs
    assert "square" in tried(plan, lang="el").needs


def test_pictures_are_found_and_probed(tmp_path: Path) -> None:
    layout = FRONT + "  - {name: photo, image: '{{ name }}', box: [20 mm, 30 mm, 6 mm, 6 mm]}\n"
    layout = layout.replace("name }}/", "lang }}/").replace("{{ name }}", "{{ lang }}", 1).replace("/{{ name }}", "")
    plan = plan_of(write_job(tmp_path, layout=layout + BACK.replace("{{ name }} ", "")))[2]
    (tmp_path / "a.jpg").write_bytes(b"")
    (tmp_path / "a.bad").write_bytes(b"")
    assert tried(plan, name="a.jpg").pictures == {tmp_path / "a.jpg": (30, 20)}
    assert tried(plan, name="").pictures == {}
    assert refusals(plan, name="a.bad") == ("photo: a.bad is damaged",)
    assert "photo: the picture" in refusals(plan, name="../../etc/passwd")[0]
    assert "photo: the picture" in refusals(plan, name="gone.jpg")[0]


def test_microtext_needs_room_for_one_whole_text(tmp_path: Path) -> None:
    plan = plan_of(write_job(tmp_path, layout=FRONT + BACK.replace("50 mm, 1 mm", "4 mm, 1 mm")))[2]
    (reason,) = refusals(plan, name="A rather long name")
    assert reason.startswith("fine: the text is ")
    low = plan_of(write_job(tmp_path, layout=FRONT + BACK.replace("50 mm, 1 mm", "50 mm, 0.2 mm")))[2]
    assert refusals(low) == ("fine: the box is lower than one line of 1 pt",)
    void = plan_of(write_job(tmp_path, layout=FRONT + BACK.replace("{{ name }} {{ series.voucher }}", "{{ name }}")))[2]
    assert "fine: the microtext is empty" in refusals(void, name="")
    held = BACK.replace("{{ name }} {{ series.voucher }}", "{{ name }} HELD")
    said = plan_of(write_job(tmp_path, layout=FRONT + held))[2]
    assert tried(said, name=" ").needs  # words beside an empty field are enough

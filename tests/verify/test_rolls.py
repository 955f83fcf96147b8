"""The verifier's own arithmetic of rolls and presses against the press's: two ways to the same places, for any job."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.small import write_job
from vdp.job.load import Job, load_job
from vdp.job.stock import PressModel, RollsModel, StockModel
from vdp.job.web import WebModel
from vdp.press.frames import rolls_of
from vdp.press.parts import Run
from vdp.run.rolls import run_for
from vdp.run.web import web_of
from vdp.verify.manifest import PieceLine
from vdp.verify.rolls import misplaced, places, roll_differences
from vdp.verify.sheetplan import RollPlan, SheetPlan

STOCK = StockModel.model_validate({"caliper": "0.1 mm", "gsm": 100.0, "diameter": "1000 mm", "core": "70 mm"})


@pytest.fixture(scope="module")
def job(tmp_path_factory: pytest.TempPathFactory) -> Job:
    return load_job(write_job(tmp_path_factory.mktemp("job")))


def told(job: Job, said: dict[str, Any], more: dict[str, Any], pieces: int) -> tuple[Job, WebModel, Run, SheetPlan]:
    """A job with these sections, its run, and what the report would say of it."""
    web = WebModel.model_validate({"width": "300 mm", "frame": "60 mm", **said})
    asked = replace(job, model=job.model.model_copy(update={"web": web, **more}))
    laid = web_of(web, job.layout.trim, job.layout.bleed, 1200, "web")
    run = run_for(asked, web, laid, pieces)
    rolls = [
        RollPlan(roll.number, "", roll.count, roll.leader, roll.trailer, roll.ready, roll.press)
        for roll in rolls_of(run)
    ]
    parts = [(part.press, part.order.pieces) for part in run.parts]
    return asked, web, run, plan_of(laid.frame, rolls, parts)


def plan_of(frame: int, rolls: list[RollPlan], parts: list[tuple[str, int]]) -> SheetPlan:
    return SheetPlan(
        dpi=1200,
        size=(14_173, frame),
        bleed=0,
        turn=0,
        behind=0,
        mirrored=True,
        cells=(),
        code="datamatrix",
        codes=(),
        register=False,
        slug=False,
        identity="",
        rolls=tuple(rolls),
        parts=tuple(parts),
    )


def rolls_model(draw: Any) -> RollsModel:
    ends = st.sampled_from(("0 mm", "50 mm", "60 mm", "130 mm"))
    said = {
        "length": draw(st.none() | mm(800, 3000)),
        "kilograms": draw(st.none() | st.floats(0.03, 0.2)),
        "diameter": draw(st.none() | mm(73, 81)),
        "leader": draw(ends),
        "trailer": draw(ends),
    }
    return RollsModel.model_validate({key: value for key, value in said.items() if value is not None})


def mm(least: float, most: float) -> st.SearchStrategy[str]:
    return st.floats(least, most).map(lambda length: f"{length:.3f} mm")


def press(speed: float, key: str = "metres_a_minute", **more: Any) -> PressModel:
    return PressModel.model_validate({key: speed, **more})


@st.composite
def jobs(draw: Any) -> tuple[dict[str, Any], dict[str, Any], int]:
    order = draw(st.sampled_from(("across", "lanes", "blocks")))
    said: dict[str, Any] = {
        "lanes": draw(st.integers(1, 4)),
        "order": order,
        "height": draw(st.integers(1, 4)) if order == "blocks" else None,
        "stack": draw(st.sampled_from(("place", "lane"))),
        "rewound": draw(st.booleans()),
        "fill": draw(st.sampled_from(("frame", "block"))),
        "roll_frames": draw(st.none() | st.integers(4, 20)),
    }
    speed = st.floats(10, 90)
    more: dict[str, Any] = {"stock": STOCK, "rolls": rolls_model(draw), "press": None}
    if draw(st.booleans()):
        own = [rolls_model(draw) if draw(st.booleans()) else None for _ in range(draw(st.integers(1, 3)))]
        more["presses"] = {
            f"p{at}": press(draw(speed), make_ready=draw(mm(0, 400)), rolls=rolls) for at, rolls in enumerate(own)
        }
    else:
        more["press"] = press(draw(speed), "feet_a_minute", make_ready=draw(mm(0, 400)))
    return said, more, draw(st.integers(1, 300))


@settings(max_examples=80, deadline=None)
@given(asked=jobs())
def test_both_ways_agree_on_every_place_roll_and_share(job: Job, asked: tuple[Any, Any, int]) -> None:
    whole, web, run, plan = told(job, *asked)
    due = [tuple(run.place_of(piece)) for piece in range(1, run.pieces + 1)]
    assert list(places(whole, web, plan)) == due
    assert list(roll_differences(whole, web, plan, run.pieces)) == []


SHARED: dict[str, Any] = {
    "press": None,
    "rolls": RollsModel.model_validate({"leader": "60 mm"}),
    "presses": {"a": press(60), "b": press(30)},
}
BLOCKS = {"lanes": 2, "order": "blocks", "height": 2}


@pytest.mark.parametrize(
    ("parts", "said"),
    [
        ([("a", 24), ("b", 11)], "the run has 36"),
        ([("b", 24), ("a", 12)], "it was printed on b, a"),
        ([("a", 36)], "roll 1 of press a must have 18 live frames"),
        ([("a", 23), ("b", 13)], "roll 1 of press b must have 7 live frames"),
    ],
)
def test_parts_that_the_job_does_not_ask_for_are_told(job: Job, parts: list[tuple[str, int]], said: str) -> None:
    whole, web, _, plan = told(job, BLOCKS, SHARED, 36)
    assert plan.parts == (("a", 24), ("b", 12))
    assert said in next(roll_differences(whole, web, plan._replace(parts=tuple(parts)), 36))


@pytest.mark.parametrize(
    ("parts", "frames", "said"),
    [
        ([("a", 16), ("b", 20)], (8, 10), "press b ends after 0.0 minutes, and a block of it on a after 0.0"),
        ([("a", 26), ("b", 10)], (13, 5), "the part of press a is not whole blocks of 4 numbers"),
        ([("a", 36)], (18,), "press a ends after 0.0 minutes, and a block of it on b after 0.0"),
    ],
)
def test_shares_that_are_not_whole_blocks_or_end_later_are_told(
    job: Job, parts: list[tuple[str, int]], frames: tuple[int, ...], said: str
) -> None:
    whole, web, _, plan = told(job, BLOCKS, SHARED, 36)
    rolls = [
        RollPlan(number, "", live + 1, 1, 0, 0, press)
        for number, (live, (press, _)) in enumerate(zip(frames, parts, strict=True), 1)
    ]
    changed = plan._replace(parts=tuple(parts), rolls=tuple(rolls))
    assert said in list(roll_differences(whole, web, changed, 36))


def test_a_roll_more_is_told(job: Job) -> None:
    whole, web, _, plan = told(job, BLOCKS, SHARED, 36)
    more = plan._replace(rolls=(*plan.rolls, plan.rolls[-1]))
    assert list(roll_differences(whole, web, more, 36)) == ["there are 3 rolls, more than the job asks for"]
    less = plan._replace(rolls=plan.rolls[:1])
    assert "roll 1 of press b must have" in next(roll_differences(whole, web, less, 36))


def test_a_piece_elsewhere_is_told(job: Job) -> None:
    whole, web, run, plan = told(job, BLOCKS, SHARED, 36)
    lines = [PieceLine(n, n + 1, "", {}, (), "", tuple(run.place_of(n))) for n in range(1, 37)]  # type: ignore[arg-type]  # four numbers
    assert list(misplaced(whole, web, plan, iter(lines))) == []
    lines[30] = lines[30]._replace(place=(1, 2, 1, 1))
    lines[31] = lines[31]._replace(place=None)
    (found,) = misplaced(whole, web, plan, iter(lines))
    assert found[0] == 31
    assert found[1].startswith("it is in roll 1, frame 2, lane 1, place 1; the job's order puts it in ")

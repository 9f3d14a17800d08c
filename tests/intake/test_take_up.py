"""What the tables know and shop.toml does not say."""

import numpy as np
import pytest

from shoplib.intake.take_up import best_place

from .shops import labour, said, shop

DAYS = ("2026-01-07", "2026-01-08", "2026-01-09")


def route(*stages, order="A1"):
    return [f"{order},{stage},EV,2026-01-{7 + i:02d},2" for i, stage in enumerate(stages)]


def test_an_alloy_is_read_from_its_name(tmp_path):
    """18k yellow is gold 750, and it is said."""
    made = shop(tmp_path)
    assert [(alloy.code, alloy.metal, alloy.fineness) for alloy in made.settings.alloys] == [
        ("18k yellow", "gold", 750.0),
        ("18k white", "gold", 750.0),
    ]
    assert len(said(made, "alloy_taken_up")) == 2


def test_an_alloy_of_shop_toml_stands(tmp_path):
    """The owner's own fineness wins over the name."""
    made = shop(tmp_path, '[[alloys]]\ncode = "18k yellow"\nmetal = "gold"\nfineness = 752\n')
    assert made.settings.alloys[0].fineness == 752


def test_stages_stand_in_the_order_of_the_work(tmp_path):
    """Told from first visits, whatever order the rows are in."""
    rows = route("melt", "solder", "polish") + route("melt", "cut", "solder", order="A2")
    made = shop(tmp_path, labour=labour(*reversed(rows)))
    assert [stage.name for stage in made.settings.stages] == ["melt", "cut", "solder", "polish"]


def test_a_stage_is_placed_where_it_usually_follows(tmp_path):
    """Between the stages of shop.toml."""
    settings = "".join(f'[[stages]]\nname = "{name}"\n' for name in ("melt", "solder", "polish"))
    made = shop(tmp_path, settings, labour=labour(*route("melt", "solder", "gild", "polish")))
    assert [stage.name for stage in made.settings.stages] == ["melt", "solder", "gild", "polish"]


def test_going_back_does_not_change_the_route(tmp_path):
    """Only first visits count."""
    made = shop(tmp_path, labour=labour(*route("solder", "tighten", "solder", "polish")))
    assert [stage.name for stage in made.settings.stages] == ["solder", "tighten", "polish"]


def test_a_worker_gets_the_skills_and_hours_booked(tmp_path):
    """Wednesday 7 to Friday 9 January 2026: 2, 2 and 3 hours."""
    made = shop(tmp_path, labour=labour("A1,solder,EV,2026-01-07,2", "A1,file,EV,2026-01-08,2", "A1,file,EV,2026-01-09,3"))
    worker = made.settings.workers[0]
    assert (worker.code, set(worker.skills), worker.hours) == ("EV", {"solder", "file"}, {"wed": 2.0, "thu": 2.0, "fri": 3.0})


def test_a_worker_listed_for_the_wage_alone_keeps_the_skills_booked(tmp_path):
    """Skills left out are those of the job cards, and it is said; skills written stand."""
    settings = '[[workers]]\ncode = "EV"\nwage_per_hour = 28.5\n[[workers]]\ncode = "KM"\nskills = ["solder"]\n'
    made = shop(tmp_path, settings, labour=labour("A1,solder,EV,2026-01-07,2", "A1,file,EV,2026-01-08,2", "A1,file,KM,2026-01-08,1"))
    assert [worker.skills for worker in made.settings.workers] == [("solder", "file"), ("solder",)]
    assert said(made, "skills_taken_up") == ['Worker "EV" has no skills in shop.toml: taken up with solder, file as booked.']


def test_a_person_long_gone_has_left(tmp_path):
    """No entry in the last sixty days of the table."""
    made = shop(tmp_path, labour=labour("A1,solder,AA,2026-01-07,2", "A1,solder,BB,2026-04-07,2"))
    assert [str(worker.left_on) for worker in made.settings.workers] == ["2026-01-07", "None"]


def test_an_absence_of_somebody_unknown_takes_the_person_up(tmp_path):
    """With no skill and no hours."""
    made = shop(tmp_path, absences="worker,from,to\nQQ,2026-01-07,2026-01-08\n")
    assert [(worker.code, worker.skills) for worker in made.settings.workers] == [("QQ", ())]


def test_a_solder_is_read_from_its_name(tmp_path):
    """One that tells nothing is named in a caution."""
    headings = "order_id,stage,worker,date,hours,solder,solder_g"
    made = shop(tmp_path, labour=labour("A1,solder,EV,2026-01-07,2,18k hard,0.1", "A1,solder,EV,2026-01-08,2,easy,0.1", headings=headings))
    assert [solder.code for solder in made.settings.solders] == ["18k hard"] and said(made, "solder_unknown")


@pytest.mark.parametrize(("order", "place"), [([0, 1], 2), ([], 0)])
def test_a_stage_that_no_order_tells_about_comes_last(order, place):
    """Ties go to the end."""
    assert best_place(order, 2, np.zeros((3, 3), dtype=np.int64)) == place


def test_the_shop_toml_is_never_touched_by_what_is_taken_up(tmp_path):
    """Only the settings in memory are complete."""
    made = shop(tmp_path, labour=labour(*route("melt")))
    assert "melt" not in (tmp_path / "shop.toml").read_text() and made.settings.stages[0].name == "melt"

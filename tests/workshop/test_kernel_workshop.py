"""The whole workshop on cases worked by hand: days, absences, dispatch, returns, holds, quotes, plans. Hours are certain (sd 0)."""

import numpy as np
import pytest

from shoplib.errors import UsageError
from shoplib.workshop import replicate
from shoplib.workshop.kernel import WEIBULL
from shoplib.workshop.model import DONE, ENDED, HELD, RUNNING
from shoplib.workshop.replicate import simulate
from shoplib.workshop.scenario import Away, ExtraPerson, Hours, Outwork, Scenario, Training
from tests.workshop.small import AS_OF, open_orders, small_workshop

WEDNESDAY = 0
"""The small workshop's first day, 1 July 2026, is a Wednesday; days 3, 4 are a weekend."""


def day(days: float, hour: float) -> float:
    """Return the time of day `hour` of a day of the run."""
    return days + hour / 24


def one_run(n=1, stages=1, people=1, hours=2.0, horizon_days=60, scenario=None, state=None, **changes):
    """Return the cards of one replication of `n` open orders and no new ones."""
    workshop = small_workshop(stages, people, orders_per_day=changes.pop("orders_per_day", 0.0), hours=hours, sd=0.0, **changes)
    records = simulate(workshop, state or open_orders(n, stages), horizon_days=horizon_days, seed=1, replications=1,
                       scenario=scenario or Scenario())
    return records.cards


def finish(*args, **kwargs):
    """Return when each order's last visit ends."""
    return one_run(*args, **kwargs)["finish"]


def test_a_visit_within_a_day():
    """Two hours from eight o'clock end at ten."""
    assert finish() == pytest.approx([day(WEDNESDAY, 10)])


def test_a_visit_goes_on_next_morning():
    """Ten hours: eight on Wednesday, two on Thursday until ten."""
    assert finish(hours=10.0) == pytest.approx([day(1, 10)])


def test_nobody_works_at_the_weekend():
    """Twenty-six hours: Wednesday to Friday 24, two on Monday, day 5."""
    assert finish(hours=26.0) == pytest.approx([day(5, 10)])


def test_nobody_works_on_a_holiday():
    """Ten hours over Thursday's holiday end on Friday at ten."""
    assert finish(hours=10.0, shut=np.array(["2026-07-02"], "datetime64[D]")) == pytest.approx([day(2, 10)])


def test_half_of_the_day_at_the_bench():
    """At a bench share of a half, two hours take four of the clock: done at twelve."""
    assert finish(bench_share=np.full((1, 1), 0.5)) == pytest.approx([day(0, 12)])


def test_lunch_stretches_the_clock():
    """Nine hours of the clock for eight paid: four hours from eight end at half past twelve."""
    assert finish(hours=4.0, day_span=9 / 8) == pytest.approx([day(0, 12.5)])


def test_two_orders_one_after_the_other():
    """The second waits two hours and ends at twelve."""
    cards = one_run(2)
    assert cards["finish"] == pytest.approx([day(0, 10), day(0, 12)]) and cards["wait_days"] - cards["wait_days"][0] == pytest.approx([0, 2 / 24])


def test_two_people_side_by_side():
    """Two people take an order each: both end at ten."""
    assert finish(2, people=2) == pytest.approx([day(0, 10)] * 2)


def test_an_own_free_day():
    """Somebody without hours on Wednesday begins on Thursday."""
    assert finish(own_hours=np.array([[8.0, 8, 0, 8, 8, 0, 0]])) == pytest.approx([day(1, 10)])


def test_a_short_absence_is_waited_for():
    """Ten hours; away on Thursday and Friday, two days are bridged: the same person goes on on Monday."""
    cards = one_run(hours=10.0, people=2, can=np.array([[True], [True]]), scenario=Scenario(away=(Away(0, AS_OF + 2, AS_OF + 3),)))
    assert cards["finish"] == pytest.approx([day(5, 10)])


def test_a_long_absence_hands_the_work_over():
    """Ten hours, eight done on Wednesday, then two weeks away: the other person does the last two on Thursday from eight."""
    cards = one_run(hours=10.0, people=2, scenario=Scenario(away=(Away(0, AS_OF + 2, AS_OF + 15),)))
    assert cards["finish"] == pytest.approx([day(1, 10)]) and cards["touch_h"] == pytest.approx([10.0]) and cards["visits"] == 1


def test_who_is_gone_for_good_leaves_the_work():
    """The only one with the skill leaves after Wednesday: ten hours are never done."""
    assert np.isnan(finish(hours=10.0, left_on=np.array(["2026-07-01"], "datetime64[D]")))[0]


def test_who_has_not_come_yet_does_nothing():
    """An extra person from Thursday on; nobody else has the skill: two hours end on Thursday at ten."""
    plan = Scenario(extra_people=(ExtraPerson((0,), starts_on=AS_OF + 2),))
    assert finish(can=np.array([[False]]), scenario=plan) == pytest.approx([day(1, 10)])


def test_rush_goes_first():
    """Of two orders the second is marked rush: it ends at ten, the first at twelve."""
    state = open_orders(2, 1, rush=np.array([False, True]))
    assert finish(state=state) == pytest.approx([day(0, 12), day(0, 10)])


def test_earliest_promise_first():
    """The second order is promised before the first."""
    state = open_orders(2, 1, promised_on=np.array(["2026-08-10", "2026-08-01"], "datetime64[D]"))
    assert finish(state=state, dispatch_rule="promise") == pytest.approx([day(0, 12), day(0, 10)])


def test_equal_promises_go_by_order():
    """Same promise: the earlier order first."""
    state = open_orders(2, 1, promised_on=np.array(["2026-08-10"] * 2, "datetime64[D]"))
    assert finish(state=state, dispatch_rule="promise") == pytest.approx([day(0, 10), day(0, 12)])


def test_longest_in_the_queue_first():
    """The second order has waited longer."""
    state = open_orders(2, 1, queued_days=np.array([1.0, 5.0]))
    assert finish(state=state, dispatch_rule="queue") == pytest.approx([day(0, 12), day(0, 10)])


def test_strength_is_the_share_of_picks_that_follow():
    """Of two waiting orders, at strength 0.6 the first is taken with 0.6 + 0.4 ÷ 2 = 0.8, within four standard errors."""
    workshop = small_workshop(1, 1, orders_per_day=0.0, sd=0.0, dispatch_strength=np.array([0.6]))
    first = simulate(workshop, open_orders(2, 1), horizon_days=3, seed=4, replications=640).open_finish()
    ended = simulate(workshop, open_orders(2, 1), horizon_days=3, seed=4, replications=640).cards["finish"].reshape(-1, 2)
    share = (ended[:, 0] < ended[:, 1]).mean()
    assert len(first) == 640 and abs(share - 0.8) < 4 * (0.8 * 0.2 / 640) ** 0.5


def test_a_running_order_has_its_rest_left():
    """Five hours of eight spent, hours certain: three left, done at eleven."""
    state = open_orders(1, 1, status=np.array([RUNNING]), person=np.array([0]), spent_h=np.array([5.0]), visits=np.array([[1]]))
    assert finish(hours=8.0, state=state) == pytest.approx([day(0, 11)])


def test_the_rest_given_what_is_spent():
    """Log-normal hours, two spent: mean rest is E[h | h > 2] − 2, by numerical integration, within four standard errors."""
    from scipy.stats import lognorm

    law = lognorm(s=0.8, scale=2.0)
    state = open_orders(1, 1, status=np.array([RUNNING]), person=np.array([0]), spent_h=np.array([2.0]), visits=np.array([[1]]))
    workshop = small_workshop(1, 1, orders_per_day=0.0, work_intercept=np.log([[2.0]]), work_sd=np.full((1, 1), 0.8))
    rest = simulate(workshop, state, horizon_days=60, seed=2, replications=640).cards["touch_h"]
    expected = law.expect(lambda h: h - 2.0, lb=2.0, conditional=True)
    assert abs(rest.mean() - expected) < 4 * rest.std(ddof=1) / 640**0.5


def test_the_rest_of_exponential_hours_has_no_memory():
    """Exponential hours of mean 2, five spent: the rest has mean 2 again, within four standard errors."""
    state = open_orders(1, 1, status=np.array([RUNNING]), person=np.array([0]), spent_h=np.array([5.0]), visits=np.array([[1]]))
    workshop = small_workshop(1, 1, orders_per_day=0.0, work_intercept=np.log([[2.0]]), work_sd=np.ones((1, 1)))
    rest = simulate(workshop, state, horizon_days=90, seed=2, replications=640, law=WEIBULL).cards["touch_h"]
    assert abs(rest.mean() - 2.0) < 4 * rest.std(ddof=1) / 640**0.5


def test_a_hold_of_unknown_length_is_one_of_the_past():
    """Held three or seven days, as in the past: it begins on Monday, day 5, or on day 7, each in half of the runs within four errors."""
    workshop = small_workshop(1, 1, orders_per_day=0.0, sd=0.0, hold_days=np.array([3.0, 7.0]))
    state = open_orders(1, 1, status=np.array([HELD]))
    started = simulate(workshop, state, horizon_days=30, seed=2, replications=640).cards["first_start"]
    assert np.unique(started) == pytest.approx([day(5, 8), day(7, 8)])
    assert abs((started > 6).mean() - 0.5) < 4 * (0.25 / 640) ** 0.5


def test_one_run_of_one_hold_of_unknown_length():
    """A single number is drawn as many are, under every numpy: held three days, as always in the past, it begins on Monday, day 5."""
    assert finish(state=open_orders(1, 1, status=np.array([HELD])), hold_days=np.array([3.0])) == pytest.approx([day(5, 10)])


def test_a_laid_aside_order_waits_with_its_rest():
    """Laid aside with three hours left, while its person works two hours on another: done at thirteen."""
    state = open_orders(2, 1, status=np.array([0, RUNNING]), spent_h=np.array([0.0, 5.0]), visits=np.array([[0], [1]]))
    assert finish(hours=8.0, state=state) == pytest.approx([day(0, 16), day(1, 11)])


def test_an_ended_visit_goes_to_the_next_stage():
    """Stage 0 is over, stage 1 takes two hours."""
    state = open_orders(1, 2, status=np.array([ENDED]), visits=np.array([[1, 0]]))
    cards = one_run(stages=2, state=state)
    assert cards["finish"] == pytest.approx([day(0, 10)]) and cards["visits"] == 1


def test_a_held_order_waits_for_its_day():
    """Held until Monday, day 5: two hours from eight on."""
    state = open_orders(1, 1, status=np.array([HELD]), until=np.array(["2026-07-06"], "datetime64[D]"))
    assert finish(state=state) == pytest.approx([day(5, 10)])


def test_a_done_order_is_delivered_on_its_day():
    """Awaiting delivery on 3 July, day 2."""
    state = open_orders(1, 1, status=np.array([DONE]), until=np.array(["2026-07-03"], "datetime64[D]"))
    assert one_run(state=state)["delivered"] == [2.0]


def test_delivery_lag_by_weekday():
    """Ended on a Wednesday: always three days later; other weekdays have no lag."""
    cards = one_run(2, hours=8.0, delivery_lag_days=np.array([3]), delivery_lag_from=np.array([0, 0, 0, 1, 1, 1, 1, 1]))
    assert cards["delivered"].tolist() == [3.0, 1.0]


def test_always_back_once_more():
    """A chance of one sends an order back until the bound of 60 returns: 61 visits, then it goes on."""
    cards = one_run(hours=0.1, return_chance=np.ones((1, 1, 1)), return_to=np.ones((1, 1)))
    assert cards["visits"] == [61] and not np.isnan(cards["finish"][0])


def test_returns_repeat_at_their_chance():
    """At a chance of 0.3 visits are geometric: mean 1 ÷ 0.7, within four standard errors."""
    workshop = small_workshop(1, 1, orders_per_day=0.0, hours=0.1, sd=0.0, return_chance=np.full((1, 1, 1), 0.3), return_to=np.ones((1, 1)))
    visits = simulate(workshop, open_orders(40, 1), horizon_days=30, seed=9, replications=32).cards["visits"]
    assert abs(visits.mean() - 1 / 0.7) < 4 * (0.3 / 0.49 / len(visits)) ** 0.5


def test_a_repair_passes_the_stages_between():
    """Stage 2 sends back to stage 0 (always, here once by way of the bound of draws): stages 0, 1, 2 are passed again."""
    back = dict(return_chance=np.array([[[0.0], [0.0], [0.5]]]), return_to=np.array([[0, 0, 0], [0, 0, 0], [1, 0, 0.0]]))
    workshop = small_workshop(3, 1, orders_per_day=0.0, hours=0.1, sd=0.0, **back)
    records = simulate(workshop, open_orders(20, 3), horizon_days=30, seed=9, replications=8)
    assert (records.cards["visits"] % 3 == 0).all() and records.totals[:, :, :, 0].sum(axis=(0, 1)).std() == 0


def test_a_repair_may_leave_a_stage_out():
    """Where the stage between is never passed again, it is visited once an order, the others more often."""
    back = dict(return_chance=np.array([[[0.0], [0.0], [0.5]]]), return_to=np.array([[0, 0, 0], [0, 0, 0], [1, 0, 0.0]]),
                repass=np.array([1.0, 0.0, 1.0]))
    workshop = small_workshop(3, 1, orders_per_day=0.0, hours=0.1, sd=0.0, **back)
    visits = simulate(workshop, open_orders(20, 3), horizon_days=30, seed=9, replications=8).totals[:, :, :, 0].sum(axis=(0, 1))
    assert visits[1] == 160 and visits[0] == visits[2] > 200


def test_rework_takes_its_own_hours():
    """A second visit at e^ln 2 the time: visits n give hours 1 + 2 (n − 1)."""
    workshop = small_workshop(1, 1, orders_per_day=0.0, hours=1.0, sd=0.0, return_chance=np.full((1, 1, 1), 0.5), return_to=np.ones((1, 1)),
                              work_rework=np.full((1, 1), np.log(2.0)))
    cards = simulate(workshop, open_orders(20, 1), horizon_days=60, seed=9, replications=4).cards
    assert cards["touch_h"] == pytest.approx(1 + 2 * (cards["visits"] - 1.0))


def test_heavier_and_other_alloys_take_longer():
    """Hours 2 at the centre of weights; slope 1 and three times the weight, alloy twice: 12 hours."""
    changes = dict(alloys=np.array(["a", "b"]), passes=np.ones((1, 2, 1)), return_chance=np.zeros((1, 1, 2)), work_slope=np.ones((1, 1)),
                   work_alloy=np.log([[[1.0, 2.0]]]))
    state = open_orders(1, 1, alloy=np.array([1]), weight_g=np.array([3.0]))
    assert one_run(state=state, **changes)["touch_h"] == pytest.approx([12.0])


def test_a_stage_outside_the_route_is_left_out():
    """The style does not pass stage 0: one visit, two hours."""
    cards = one_run(stages=2, state=open_orders(1, 2, status=np.array([ENDED]), stage=np.array([0])), passes=np.array([[[1.0, 0.0]]]))
    assert cards["visits"] == 0 and cards["finish"] == 0.0


def test_holds_come_before_the_first_visit():
    """A hold of always two days before stage 1: stage 0 ends at ten on Wednesday, stage 1 begins at ten on Friday."""
    cards = one_run(stages=2, hold_chance=np.array([0.0, 1.0]), hold_days=np.array([2.0]))
    assert cards["finish"] == pytest.approx([day(2, 12)], abs=1e-6)


def test_outwork_comes_back_after_its_days():
    """Stage 0 sent out for five days from midnight: back on Monday at nought, stage 1 from eight to ten."""
    plan = Scenario(outwork=(Outwork(0, 5.0),))
    state = open_orders(1, 2, status=np.array([HELD]), until=np.array(["2026-07-01"], "datetime64[D]"))
    cards = one_run(stages=2, scenario=plan, state=state)
    assert cards["finish"] == pytest.approx([day(5, 10)]) and cards["touch_h"] == pytest.approx([2.0])


def test_overtime_shortens():
    """Ten more hours a week make each day ten hours: ten hours end on Wednesday at eighteen."""
    assert finish(hours=10.0, scenario=Scenario(hours=(Hours(0, 10.0),))) == pytest.approx([day(0, 18)])


def test_learning_by_the_unit_curve():
    """Rate 80 %, standard at piece 4: pieces take (n ÷ 4)^log2 0.8 times an hour, 1.5625, 1.25, 1.0964, 1 (Crawford; by hand)."""
    plan = Scenario(extra_people=(ExtraPerson((0,), learning_rate=0.8, learning_pieces=4.0),))
    cards = one_run(5, hours=1.0, can=np.array([[False]]), scenario=plan)
    assert cards["touch_h"] == pytest.approx([1.5625, 1.25, 0.75 ** np.log2(0.8), 1.0, 1.0])


def test_learning_never_beyond_three_times():
    """Standard only at piece 1,000: the first piece takes three times an hour, not 9.2 times."""
    plan = Scenario(extra_people=(ExtraPerson((0,), learning_rate=0.8, learning_pieces=1000.0),))
    assert one_run(1, hours=1.0, can=np.array([[False]]), scenario=plan)["touch_h"] == [3.0]


def test_a_trained_person_helps_from_the_day_on():
    """Nobody has the skill until the second person is trained on Friday, day 2: done at ten."""
    plan = Scenario(trained=(Training(0, 0, starts_on=AS_OF + 3),))
    assert finish(can=np.array([[False]]), scenario=plan) == pytest.approx([day(2, 10)])


def test_helping_hours_shorten_what_others_wait_for():
    """Five shop days of one hour's help a week, two hours an order, a second waits: 0.2 h are lent to the first, none to the last."""
    cards = one_run(2, scenario=Scenario(helping_hours=((0, 1.0),)))
    assert cards["touch_h"] == pytest.approx([1.8, 2.0])


def test_new_orders_are_promised_as_quoted():
    """Weeks quoted = 2 + 0.5 × open orders, rounded to halves: with three open and none made, 3.5 weeks, then 4 …"""
    workshop = small_workshop(1, 1, orders_per_day=3.0, can=np.array([[False]]), quote_a=np.array([2.0]), quote_b=np.array([0.5]), quote_step=0.5)
    cards = simulate(workshop, open_orders(3, 1), horizon_days=5, seed=1, replications=1).cards[3:]
    assert cards["weeks_quoted"].tolist() == [2.0 + 0.5 * (3 + i) for i in range(len(cards))] and len(cards) > 3
    assert (cards["promise"] - np.floor(cards["arrival"]) == np.floor(7 * cards["weeks_quoted"] + 0.5)).all()


def test_quotes_are_clipped():
    """Never under three weeks, never over five."""
    workshop = small_workshop(1, 1, orders_per_day=3.0, quote_a=np.array([4.0]), quote_sd=np.array([3.0]), quote_low=3.0, quote_high=5.0)
    weeks = simulate(workshop, open_orders(0, 1), horizon_days=60, seed=1, replications=1).cards["weeks_quoted"]
    assert weeks.min() == 3.0 and weeks.max() == 5.0


def share_won(scenario=None, **changes):
    """Return the share of enquiries won and its standard error."""
    workshop = small_workshop(1, 4, orders_per_day=4.0, hours=0.5, has_quotes=True, **changes)
    records = simulate(workshop, open_orders(0, 1), horizon_days=200, seed=3, replications=8, scenario=scenario or Scenario())
    all_of_them = len(records.cards) + int(records.lost.sum())
    return len(records.cards) / all_of_them, 0.5 / all_of_them**0.5


@pytest.mark.parametrize("changes, scenario, logit", [
    ({"piece_win_logit": np.array([0.4])}, None, 0.4),
    ({"piece_win_logit": np.array([0.4]), "win_wait": np.array([-0.3]), "quote_a": np.array([6.0])}, None, 0.4 - 0.3 * 2),
    ({"piece_win_logit": np.array([0.4]), "win_wait": np.array([-0.3]), "quote_a": np.array([6.0])}, Scenario(patience_factor=0.0), 0.4),
    ({"piece_win_logit": np.array([0.4]), "win_price": np.array([-3.0])}, Scenario(mark_up=0.1), 0.4 - 3 * np.log(1.05)),
    ({"piece_win_logit": np.array([0.4]), "win_shift": np.array([-0.5])}, None, -0.1),
])
def test_customers_answer_to_price_and_wait(changes, scenario, logit):
    """The share won is the logistic of log odds + weeks above 4 × answer + ln of the price rise (10 % of the making half) × answer."""
    share, error = share_won(scenario, **changes)
    assert abs(share - 1 / (1 + np.exp(-logit))) < 4 * error


def test_won_share_is_scaled_and_never_above_one():
    """Orders ÷ won quotes of 1.5 at odds of 4 : 1 would be 1.2: everybody orders."""
    assert share_won(piece_win_logit=np.array([np.log(4.0)]), win_scale=1.5)[0] == 1.0


def test_enquiries_come_as_expected():
    """Two a working day for a year: mean within four standard errors of 2 × working days; half as many under a factor of a half."""
    workshop = small_workshop(1, 1, orders_per_day=2.0, hours=0.1)
    for factor in (1.0, 0.5):
        records = simulate(workshop, open_orders(0, 1), horizon_days=364, seed=3, replications=32, scenario=Scenario(demand_factor=factor))
        came = np.diff(records.first)
        assert abs(came.mean() - 520 * factor) < 4 * (520 * factor / 32) ** 0.5


def test_enquiries_come_in_working_hours():
    """Never at night, at the weekend or on a holiday."""
    workshop = small_workshop(1, 1, orders_per_day=3.0, shut=np.array(["2026-07-02"], "datetime64[D]"))
    arrival = simulate(workshop, open_orders(0, 1), horizon_days=50, seed=3, replications=4).cards["arrival"]
    hour, weekday = arrival % 1 * 24, (np.floor(arrival) + 2) % 7
    assert hour.min() >= 8 - 1e-9 and hour.max() <= 16 + 1e-9 and weekday.max() <= 4 and 1 not in np.floor(arrival)


def test_months_differ_more_when_demand_is_dispersed():
    """Monthly counts of variance mean + dispersion × mean²: within a fifth over 640 months of 44 enquiries expected."""
    workshop = small_workshop(1, 1, orders_per_day=2.0, hours=0.01, demand_dispersion=np.array([0.2]))
    counts = simulate(workshop, open_orders(0, 1), horizon_days=31, seed=3, replications=640).monthly("arrived")[:, 0]
    mean = 2.0 * 23
    assert counts.mean() == pytest.approx(mean, rel=0.1) and counts.var() == pytest.approx(mean + 0.2 * mean**2, rel=0.35)


def test_absences_take_their_share():
    """Chance 0.1 a day there, always two days: 0.1 × 2 ÷ (1 + 0.1 × 2) of days lost; days worked within four standard errors."""
    workshop = small_workshop(1, 1, orders_per_day=0.0, hours=0.5, sd=0.0, absence_chance=np.full((1, 1), 0.1), absence_days=np.array([2]))
    done = simulate(workshop, open_orders(4000, 1), horizon_days=140, seed=5, replications=32).delivered_by(140)
    share = done / (100 * 16)
    assert abs(share.mean() - 1 / 1.2) < 4 * share.std(ddof=1) / 32**0.5


def test_leaving_in_the_first_year():
    """A chance of one: gone on a day drawn evenly from the first 365, so half of a year's days are worked on average."""
    plan = Scenario(extra_people=(ExtraPerson((0,), leaves_first_year=1.0, bench_share=1.0, absence_chance=0.0),))
    workshop = small_workshop(1, 1, orders_per_day=0.0, hours=8.0, sd=0.0, can=np.array([[False]]))
    done = simulate(workshop, open_orders(300, 1), horizon_days=365, seed=5, replications=64, scenario=plan).delivered_by(365)
    assert abs(done.mean() - 130.5) < 4 * done.std(ddof=1) / 8


def test_sixty_four_people_work():
    """Sixty-four orders, sixty-four people: all end at ten."""
    assert finish(64, people=64) == pytest.approx([day(0, 10)] * 64)


@pytest.mark.parametrize("people, extra", [(65, 0), (64, 1)])
def test_sixty_five_people_are_refused(people, extra):
    """The sixty-fifth is refused with the number found and allowed."""
    with pytest.raises(UsageError, match='"65"; allowed: 1 to 64'):
        one_run(people=people, scenario=Scenario(extra_people=(ExtraPerson((0,)),) * extra))


def test_the_bound_on_events_is_told(monkeypatch):
    """At one event an order, sixteen orders of three visits each are cut off, and the records say how many replications were."""
    monkeypatch.setattr(replicate, "EVENTS_AN_ORDER", 1)
    records = simulate(small_workshop(3, 1, orders_per_day=0.0), open_orders(16, 3), horizon_days=90, seed=1, replications=2)
    assert records.cut == 2 and records.events.tolist() == [records.most_events] * 2


def test_an_order_stuck_for_two_years_does_no_harm():
    """Held since long ago without a day and without past holds: it goes on at once, and the others as well."""
    state = open_orders(2, 1, status=np.array([HELD, 0]), ordered_on=np.array(["2024-06-30", "2026-06-30"], "datetime64[D]"))
    assert sorted(finish(state=state)) == pytest.approx([day(0, 10), day(0, 12)])


def test_people_without_hours_finish_nothing():
    """Nobody has hours: the run ends, nothing is delivered."""
    records = simulate(small_workshop(own_hours=np.zeros((2, 7))), open_orders(3), horizon_days=200, seed=1, replications=2)
    assert records.delivered_by(200).tolist() == [0, 0] and records.cut == 0

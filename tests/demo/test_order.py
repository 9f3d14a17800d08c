"""The queue of the invented workshop against hand-made cases and a plain list."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from shoplib.demo.order import Order, Queue
from shoplib.demo.pieces import Piece

PIECE = Piece(0, 1, 0, 50.0, 100.0, 0.0, 0.0, 0.0, 0.0, 0.0)


def order(number: int, promise: int, rush: bool = False, ordered: int = 0) -> Order:
    return Order(number, "order", PIECE, ordered, promise, 1000.0, rush=rush)


def test_the_earliest_promise_comes_first() -> None:
    """Of promises on days 30, 20 and 25 the one on day 20 is next."""
    queue = Queue()
    for number, promise in enumerate((30, 20, 25)):
        queue.add(order(number, promise))
    assert queue.first().promise == 20


def test_a_rush_order_overtakes() -> None:
    """A rush order promised later still goes first."""
    queue = Queue()
    queue.add(order(0, 10))
    queue.add(order(1, 90, rush=True))
    assert queue.first().number == 1


def test_equal_promises_go_by_the_day_of_the_order() -> None:
    """Of two promised for the same day the older order is next."""
    queue = Queue()
    queue.add(order(0, 40, ordered=9))
    queue.add(order(1, 40, ordered=3))
    assert queue.first().number == 1


def test_an_order_that_comes_back_waits_once() -> None:
    """Taken out and put back, it stands in the queue once and can be taken out again."""
    queue, piece = Queue(), order(0, 10)
    queue.add(piece)
    queue.remove(piece)
    queue.add(piece)
    queue.remove(piece)
    assert len(queue) == 0


@given(st.lists(st.tuples(st.booleans(), st.integers(0, 20), st.booleans()), max_size=60))
def test_the_queue_agrees_with_a_sorted_list(steps: list[tuple[bool, int, bool]]) -> None:
    """Whatever comes and goes, the next order is the smallest of a plain list of those that wait."""
    queue, waiting = Queue(), []
    for number, (comes, promise, rush) in enumerate(steps):
        if comes or not waiting:
            waiting.append(order(number, promise, rush))
            queue.add(waiting[-1])
        else:
            queue.remove(waiting.pop(promise % len(waiting)))
        if waiting:
            assert queue.first() is min(waiting, key=lambda o: (not o.rush, o.promise, o.ordered, o.number))

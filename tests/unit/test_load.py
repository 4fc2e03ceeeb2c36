"""The queue of a worker's calculations."""

from __future__ import annotations

import threading
import time

import pytest

from wattpair_service.api.guards.admission import Load

WAIT_S = 20.0


def started(load: Load, number: int, order: list[int]) -> threading.Thread:
    """A thread that waits in the queue."""

    def calculate() -> None:
        assert load.take()
        order.append(number)
        load.give_back()

    thread = threading.Thread(target=calculate)
    before = load.waiting
    thread.start()
    end = time.monotonic() + WAIT_S
    while load.waiting == before:
        assert time.monotonic() < end, "it does not wait"
        time.sleep(0.001)
    return thread


def test_calculations_run_in_the_order_of_their_requests() -> None:
    load = Load(queue_length=5, wait_max_s=WAIT_S)
    order: list[int] = []
    assert load.take()
    threads = [started(load, number, order) for number in range(5)]
    assert load.is_full
    assert not load.take()
    load.give_back()
    # Who comes now must not overtake those who wait.
    if load.take():
        order.append(5)
        load.give_back()
    for thread in threads:
        thread.join(WAIT_S)
    assert order[:5] == [0, 1, 2, 3, 4]
    assert load.take()
    assert not load.is_full


@pytest.mark.parametrize(("queue_length", "wait_max_s"), [(1, 0.01), (0, WAIT_S)], ids=["waits too long", "no queue"])
def test_a_calculation_without_a_turn_leaves_the_queue(queue_length: int, wait_max_s: float) -> None:
    load = Load(queue_length=queue_length, wait_max_s=wait_max_s)
    assert load.take()
    assert load.is_full == (queue_length == 0)
    assert not load.take()
    assert load.waiting == 0
    load.give_back()
    assert load.take()

"""The queue of a copy's calculations."""

from __future__ import annotations

import threading
import time

import pytest

from wattpair_service.api.guards.admission import Admission

WAIT_S = 20.0


def started(admission: Admission, number: int, order: list[int]) -> threading.Thread:
    """A thread that waits in the queue."""

    def calculate() -> None:
        assert admission.take()
        order.append(number)
        admission.give_back()

    thread = threading.Thread(target=calculate)
    before = admission.waiting
    thread.start()
    end = time.monotonic() + WAIT_S
    while admission.waiting == before:
        assert time.monotonic() < end, "it does not wait"
        time.sleep(0.001)
    return thread


def test_calculations_run_in_the_order_of_their_requests() -> None:
    admission = Admission(queue_length=5, wait_max_s=WAIT_S)
    order: list[int] = []
    assert admission.take()
    threads = [started(admission, number, order) for number in range(5)]
    assert admission.is_full
    assert admission.under_way == 6
    assert not admission.take()
    admission.give_back()
    # Who comes now must not overtake those who wait.
    if admission.take():
        order.append(5)
        admission.give_back()
    for thread in threads:
        thread.join(WAIT_S)
    assert order[:5] == [0, 1, 2, 3, 4]
    assert admission.take()
    assert not admission.is_full


@pytest.mark.parametrize(("queue_length", "wait_max_s"), [(1, 0.01), (0, WAIT_S)], ids=["waits too long", "no queue"])
def test_a_calculation_without_a_turn_leaves_the_queue(queue_length: int, wait_max_s: float) -> None:
    admission = Admission(queue_length=queue_length, wait_max_s=wait_max_s)
    assert admission.take()
    assert admission.is_full == (queue_length == 0)
    assert not admission.take()
    assert admission.waiting == 0
    admission.give_back()
    assert admission.take()

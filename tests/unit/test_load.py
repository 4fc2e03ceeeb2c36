"""The turns of a worker's calculations."""

from __future__ import annotations

import threading
import time

from wattpair_service.api.load import Load

WAIT_S = 20.0


def started(load: Load, number: int, order: list[int]) -> threading.Thread:
    """A thread that waits for a turn, once it does."""

    def go() -> None:
        assert load.take()
        order.append(number)
        load.give_back()

    thread = threading.Thread(target=go)
    before = load.waiting
    thread.start()
    end = time.monotonic() + WAIT_S
    while load.waiting == before:
        assert time.monotonic() < end, "it does not wait"
        time.sleep(0.001)
    return thread


def test_turns_come_in_the_order_in_which_they_were_asked_for() -> None:
    load = Load(queue_length=5, wait_max_s=WAIT_S)
    order: list[int] = []
    assert load.take()
    threads = [started(load, number, order) for number in range(5)]
    assert load.is_full
    assert not load.take()
    load.give_back()
    # Nobody who comes now overtakes those who wait.
    if load.take():
        order.append(5)
        load.give_back()
    for thread in threads:
        thread.join(WAIT_S)
    assert order[:5] == [0, 1, 2, 3, 4]
    assert load.take()
    assert not load.is_full


def test_who_waits_too_long_gives_its_place_up() -> None:
    load = Load(queue_length=1, wait_max_s=0.01)
    assert load.take()
    assert not load.take()
    assert load.waiting == 0
    load.give_back()
    assert load.take()


def test_without_a_queue_one_calculates_and_nobody_waits() -> None:
    load = Load(queue_length=0, wait_max_s=WAIT_S)
    assert load.take()
    assert load.is_full
    assert not load.take()

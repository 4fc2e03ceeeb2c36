"""The board that the system feeds: whether it is rated for its main fuse and all generation, and what to do where it is not."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from math import floor

from wattpair_service.engineering.rounding import ROUNDING
from wattpair_service.engineering.sentences import Sentence, Words, sentence

BOARD_RATINGS_A = (40, 63, 80, 100, 125, 160, 200, 225, 250, 320, 400, 630, 800, 1000)
"""Ratings of boards and busbars that are made [A]. From memory."""
FEED_OPPOSITE = sentence("way_out.feed_opposite", "percent")
FEED_OPPOSITE_FEWER = sentence("way_out.feed_opposite_fewer", "feed", "fewer")
SMALLER_MAIN, LARGER_BOARD = (sentence(f"way_out.{each}", "rating_a") for each in ("smaller_main", "larger_board"))
FEWER_UNITS = sentence("way_out.fewer_units", "units", "where", "current_a")
SUM_OF_DEVICES = sentence("way_out.sum_of_devices", "rating_a", "beside_a", "device_a", "clause")
SUPPLY_SIDE = sentence("way_out.supply_side", "device_a", "clause")
POWER_CONTROL = sentence("way_out.power_control", "current_a", "clause")


@dataclass(frozen=True, slots=True)
class BoardRule:
    """A code's rule: main device plus generation times the factor within the board's rating times `share`.

    `opposite_end` says that the feed must enter at the end opposite the main device, and elsewhere `share` is 1 by
    `source_elsewhere`. `sum_of_devices`, `supply_side` and
    `power_control` are the clauses of other lawful ways; empty where the code has none.
    """

    share: float
    continuous_current_factor: float
    opposite_end: bool
    source: Words
    source_elsewhere: Words | None = None
    sum_of_devices: str = ""
    supply_side: str = ""
    power_control: str = ""


@dataclass(frozen=True, slots=True)
class Board:
    """Rating of a board and of the main device that protects it [A]; None where not given."""

    rating_a: float | None
    main_device_a: float | None


def feed_max_a(rule: BoardRule, *, rating_a: float, main_device_a: float) -> float:
    """Most generation, with the code's factor, that a board may be fed with beside its main device [A]."""
    return rating_a * rule.share - main_device_a


def is_within(rule: BoardRule, board: Board, generation_a: float) -> bool | None:
    """Whether a board may be fed with generation of this rated current [A]; None where a rating is missing."""
    if board.rating_a is None or board.main_device_a is None:
        return None
    most = feed_max_a(rule, rating_a=board.rating_a, main_device_a=board.main_device_a)
    return generation_a * rule.continuous_current_factor <= most + ROUNDING


def most_a(rule: BoardRule, board: Board) -> float:
    """Most rated current of all generation beside a board's main device, of which both ratings are known [A]."""
    assert board.rating_a is not None and board.main_device_a is not None, "both ratings are known"  # noqa: PT018
    fed_a = feed_max_a(rule, rating_a=board.rating_a, main_device_a=board.main_device_a)
    return fed_a / rule.continuous_current_factor


def ways_out(
    rule: BoardRule,
    board: Board,
    *,
    generation_a: float,
    existing_a: float,
    unit_current_a: float,
    pv_device_a: float | None,
    standard_ratings_a: Sequence[float],
    where: Sentence,
    opposite_end_share: float | None,
) -> Iterator[Sentence]:
    """Each lawful way out of a board that may not be fed so much, with its figures.

    Parameters
    ----------
    rule : BoardRule
        The code's rule.
    board : Board
        The board, with both ratings.
    generation_a, existing_a : float
        Rated current of all generation on the fullest phase, and what of it is on the premises already [A].
    unit_current_a : float
        Rated current of one unit [A].
    pv_device_a : float or None
        Rating of the system's own main device [A].
    standard_ratings_a : sequence of float
        Ratings of devices that are made [A].
    where : Sentence
        What the number of units is of: a phase, or all.
    opposite_end_share : float or None
        Share of the board's rating where the feed is at the end opposite the main device and now is not [1].
    """
    assert board.rating_a is not None and board.main_device_a is not None, "both ratings are known where the check fails"  # noqa: PT018
    needed = generation_a * rule.continuous_current_factor

    def fewer(current_a: float) -> Iterator[Sentence]:
        if units := max(0, floor((current_a - existing_a) / unit_current_a + ROUNDING)):
            yield FEWER_UNITS(units=units, where=where, current_a=current_a - existing_a)

    if opposite_end_share is not None:
        feed, at_the_end = FEED_OPPOSITE(percent=opposite_end_share * 100.0), replace(rule, share=opposite_end_share)
        with_fewer = (FEED_OPPOSITE_FEWER(feed=feed, fewer=each) for each in fewer(most_a(at_the_end, board)))
        yield from (feed,) if is_within(at_the_end, board, generation_a) else with_fewer
    smaller = [rating for rating in standard_ratings_a if rating <= board.rating_a * rule.share - needed + ROUNDING]
    if smaller:
        yield SMALLER_MAIN(rating_a=max(smaller))
    larger = next(
        (rating for rating in BOARD_RATINGS_A if rating * rule.share >= needed + board.main_device_a - ROUNDING), None
    )
    if larger is not None:
        yield LARGER_BOARD(rating_a=larger)
    most = most_a(rule, board)
    yield from fewer(most)
    device = needed if pv_device_a is None else pv_device_a
    if rule.sum_of_devices:
        beside_a = max(0.0, board.rating_a - device)
        yield SUM_OF_DEVICES(rating_a=board.rating_a, beside_a=beside_a, device_a=device, clause=rule.sum_of_devices)
    if rule.supply_side:
        yield SUPPLY_SIDE(device_a=device, clause=rule.supply_side)
    if rule.power_control and most > existing_a + ROUNDING:
        yield POWER_CONTROL(current_a=most - existing_a, clause=rule.power_control)

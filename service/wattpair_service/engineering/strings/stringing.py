"""Which modules form a string: given by the request, or the longest safe strings of each face.

A string is safe where it fails none of the electrical checks at the site's extremes. On each face as few strings as possible
are proposed, of equal length; where trackers are left, the longest strings are divided, which keeps shade to fewer modules. A
face with too few modules for a string of its own is joined to a string of another face, at the cost of mismatch.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from itertools import chain, pairwise

from wattpair_service.engineering.errors import EngineeringError
from wattpair_service.engineering.inverter.electrical_checks import ElectricalCheck, Verdict, is_buildable, verdict_of
from wattpair_service.engineering.sentences import Sentence, fixed, sentence
from wattpair_service.engineering.strings.string_dc import String

LENGTH_MOST = 60
"""Modules of a string that are looked at."""
NO_LENGTH, NO_OPTIMISER = (fixed(f"strings.{each}") for each in ("no_length", "no_optimiser"))
TOO_FEW_TRACKERS = sentence("strings.too_few_trackers", "strings", "trackers")
TOO_LONG = sentence("strings.too_long", "length", "longest")
TOO_SHORT = sentence("strings.too_short", "length", "shortest")

CheckLength = Callable[[int], tuple[ElectricalCheck, ...]]


@dataclass(frozen=True, slots=True)
class Lengths:
    """Shortest and longest number of modules in series that passes every check; None where none does, or optimisers set it."""

    shortest: int | None
    longest: int | None

    @classmethod
    def of(cls, checks: CheckLength) -> Lengths:
        """By the checks of each length, which pass over one range of lengths."""
        lengths = range(1, LENGTH_MOST + 1)
        shortest = next((length for length in lengths if is_buildable(checks(length))), None)
        if shortest is None:
            return cls(None, None)
        beyond = next((length for length in lengths[shortest:] if not is_buildable(checks(length))), LENGTH_MOST + 1)
        return cls(shortest, beyond - 1)


@dataclass(frozen=True, slots=True)
class ModuleOnFace:
    """A module by the number of its face, from 0, and its own, from 1."""

    face_number: int
    module_number: int


@dataclass(frozen=True, slots=True)
class CheckedString:
    """A string with its verdict, and the checks that do not pass without remark."""

    modules: String
    tracker: int
    verdict: Verdict
    reasons: tuple[ElectricalCheck, ...]

    @property
    def on_faces(self) -> tuple[ModuleOnFace, ...]:
        """Its modules by their faces."""
        return tuple(ModuleOnFace(face, module + 1) for face, module in self.modules)


@dataclass(frozen=True, slots=True)
class Stringing:
    """The strings of an inverter. `obstacle` says why they must not be built; None where they can."""

    strings: tuple[CheckedString, ...]
    lengths: Lengths
    is_given: bool
    obstacle: Sentence | None

    @property
    def verdict(self) -> Verdict:
        """The worst of the strings."""
        return "fail" if self.obstacle is not None else verdict_of(tuple(each for one in self.strings for each in one.reasons))


def stringing(
    module_counts: Sequence[int],
    tracker_count: int,
    checks: CheckLength,
    given: tuple[String, ...] | None,
    *,
    has_optimisers: bool = False,
) -> Stringing:
    """Strings on the faces with so many modules.

    Parameters
    ----------
    module_counts : sequence of int
        Modules on each face.
    tracker_count : int
        Trackers of the inverter, one string each.
    checks : callable
        Electrical checks of a string by its length.
    given : tuple of String, optional
        The request's own strings.
    has_optimisers : bool
        Each module has one, by which the checks go: they set no length, and a string may lie on any faces.

    Raises
    ------
    EngineeringError
        Given strings name a module that is not there, or twice, leave modules out, or are more than the trackers.
    """
    if given is not None:
        _require_sound(given, module_counts, tracker_count)
    lengths = Lengths.of(checks)
    if has_optimisers and lengths.longest is None:
        return Stringing((), lengths, given is not None, NO_OPTIMISER)
    if given is not None:
        strings: tuple[String, ...] | None = given
        obstacles = (_length_obstacle(len(one), lengths, checks) for one in given)
        obstacle = next((each for each in obstacles if each is not None), None)
    else:
        by_face = [[(face, module) for module in range(count)] for face, count in enumerate(module_counts)]
        # Over several faces only where trackers are too few, or a face has too few modules: their currents differ.
        ways = ([] if has_optimisers else [by_face]) + [[list(chain(*by_face))]]
        proposals = [_proposed(faces, tracker_count, lengths) for faces in ways]
        strings, obstacle = next((each for each in proposals if each[1] is None), proposals[0])
    checked = []
    for number, string in enumerate(strings or (), 1):
        of_length = checks(len(string))
        reasons = tuple(each for each in of_length if each.verdict != "ok")
        checked.append(CheckedString(string, number, verdict_of(of_length), reasons))
    known = Lengths(None, None) if has_optimisers else lengths
    return Stringing(tuple(checked), known, given is not None, obstacle)


def _require_sound(given: tuple[String, ...], module_counts: Sequence[int], tracker_count: int) -> None:
    if len(given) > tracker_count:
        raise EngineeringError(f"at most {tracker_count} strings, one on each tracker; {len(given)} are given", ("strings",))
    seen: set[tuple[int, int]] = set()
    for index, string in enumerate(given):
        for face, module in string:
            message = None
            if not module < module_counts[face]:
                message = f"modules from 1 to {module_counts[face]} of this face, not {module + 1}"
            elif (face, module) in seen:
                message = f"each module once; module {module + 1} of this face is named twice"
            if message is not None:
                raise EngineeringError(message, (f"strings/{index}",))
            seen.add((face, module))
    if missing := sum(module_counts) - len(seen):
        raise EngineeringError(f"every module of the roof in a string; {missing} are in none", ("strings",))


def _length_obstacle(length: int, lengths: Lengths, checks: CheckLength) -> Sentence | None:
    if is_buildable(checks(length)):
        return None
    if lengths.longest is None or lengths.shortest is None:
        return NO_LENGTH
    if length > lengths.longest:
        return TOO_LONG(length=length, longest=lengths.longest)
    return TOO_SHORT(length=length, shortest=lengths.shortest)


def _proposed(
    faces: Sequence[list[tuple[int, int]]], tracker_count: int, lengths: Lengths
) -> tuple[tuple[String, ...] | None, Sentence | None]:
    """Strings of these faces, each by itself as far as it goes; or why there are none."""
    shortest, longest = lengths.shortest, lengths.longest
    if shortest is None or longest is None:
        return None, NO_LENGTH
    large = [modules for modules in faces if len(modules) >= shortest]
    small = [modules for modules in faces if len(modules) < shortest]
    # What is too short by itself forms one string together, or joins the shortest one that has room.
    rest = [module for modules in small for module in modules]
    if rest and len(rest) >= shortest:
        large.append(rest)
    elif rest:
        host = min((modules for modules in large), key=len, default=None)
        if host is None:
            return None, TOO_SHORT(length=len(rest), shortest=shortest)
        host.extend(rest)
    counts = [-(-len(modules) // longest) for modules in large]
    if sum(counts) > tracker_count:
        return None, TOO_FEW_TRACKERS(strings=sum(counts), trackers=tracker_count)
    while sum(counts) < tracker_count:
        divisible = [index for index, modules in enumerate(large) if len(modules) // (counts[index] + 1) >= shortest]
        if not divisible:
            break
        counts[max(divisible, key=lambda index: len(large[index]) / counts[index])] += 1
    strings = [string for modules, count in zip(large, counts, strict=True) for string in _divided(modules, count)]
    if any(not shortest <= len(string) <= longest for string in strings):
        worst = min(strings, key=len)
        return None, TOO_SHORT(length=len(worst), shortest=shortest)
    return tuple(strings), None


def _divided(modules: list[tuple[int, int]], count: int) -> list[String]:
    """Modules one after another in strings of equal length, the first ones longer by one where they do not divide."""
    short, longer = divmod(len(modules), count)
    ends = [0]
    for number in range(count):
        ends.append(ends[-1] + short + (number < longer))
    return [tuple(modules[start:end]) for start, end in pairwise(ends)]

"""How far modules stay from each kind of edge, and the access paths that they leave free."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Literal, get_args

from wattpair_service.engineering.cautions import Caution, caution, caution_form
from wattpair_service.engineering.results import Assumption
from wattpair_service.engineering.roof.edges import EDGE_KINDS, SIDES, EdgeKind, Side
from wattpair_service.engineering.sentences import OF_REQUEST, Words, family, fixed, sentence

PathChoice = Literal["none", "left", "right", "both", "either"]
PATH_CHOICES: tuple[PathChoice, ...] = get_args(PathChoice)

EDGE_FIELD, WIDTH_FIELD, SIDE_FIELD = "edge_distance_m", "access_path_width_m", "access_path_side"

NO_PATH = caution("no_access_path", "office", "roof")
PATH_LEFT_OUT = caution_form("access_path_left_out", "office", "roof", "width_m")
PATH_TOO_NARROW = caution_form("access_path_too_narrow", "office", "roof", "width_m", "given_m")
EDGE_TOO_NEAR = caution_form("edge_too_near", "office", "roof", "asked_m", "kind", "given_m")
OF_REGION = "rules_of_the_region"
"""Code of what a region's rules say themselves."""
EITHER_SOURCE = fixed("source.either_side")
COVERED_MORE, COVERED_LESS = (sentence(f"source.covered_{each}", "source", "percent") for each in ("more", "less"))
EDGES = family("value", EDGE_KINDS)
family("value", PATH_CHOICES)
SIDES_OF_CHOICE: dict[PathChoice, tuple[tuple[Side, ...], ...]] = {
    "none": ((),),
    "left": (("left",),),
    "right": (("right",),),
    "both": (SIDES,),
    "either": (("left",), ("right",)),
}
"""Sets of sides with a path that a choice allows."""


@dataclass(frozen=True, slots=True)
class EdgeRule:
    """Distance of modules from an edge [m], and its source."""

    distance_m: float
    source: Words


@dataclass(frozen=True, slots=True)
class RidgeRule(EdgeRule):
    """Distance from the ridge, which may be larger where modules cover more than a share of the face."""

    covered_share_max: float | None = None
    distance_above_m: float | None = None


@dataclass(frozen=True, slots=True)
class PathRule:
    """Access path from the eaves to the ridge, along one or both sides of a face."""

    width_m: float
    side: PathChoice
    source: Words


@dataclass(frozen=True, slots=True)
class AccessRules:
    """A region's distances from edges and its access paths.

    Attributes
    ----------
    edge : EdgeRule
        For the kinds of edge without a rule of their own.
    ridge : RidgeRule or None
        The ridge's own.
    kinds : tuple of (EdgeKind, EdgeRule)
        Rules of other kinds of edge.
    path : PathRule or None
        None where no rule that asks for a path is known.
    cautions : tuple of Words
        What the region's rules ask for beyond a single face.
    """

    edge: EdgeRule
    ridge: RidgeRule | None
    kinds: tuple[tuple[EdgeKind, EdgeRule], ...]
    path: PathRule | None
    cautions: tuple[Words, ...]

    def rule(self, kind: EdgeKind) -> EdgeRule | None:
        """The rule of this kind of edge alone; None where `edge` is its rule."""
        return self.ridge if kind == "ridge" else dict(self.kinds).get(kind)


@dataclass(frozen=True, slots=True)
class AccessTerms:
    """What a request says of edges and paths, in place of the region's rules. None: not given.

    `edge_distance_m` is for the edges whose own distance is not given.
    """

    rules: AccessRules
    edge_distance_m: float | None = None
    eaves_distance_m: float | None = None
    ridge_distance_m: float | None = None
    rake_distance_m: float | None = None
    hip_distance_m: float | None = None
    valley_distance_m: float | None = None
    access_path_width_m: float | None = None
    access_path_side: PathChoice | None = None


@dataclass(frozen=True, slots=True)
class Distance:
    """A distance or width [m] that a layout uses. `field` is the request's field that gives or would give it."""

    distance_m: float
    source: Words
    field: str
    given: bool


@dataclass(frozen=True, slots=True)
class Path:
    """The access path of a layout: its width and its side or sides."""

    width: Distance
    side: PathChoice
    side_given: bool
    side_source: Words


@dataclass(frozen=True, slots=True)
class Access:
    """Distance from each kind of edge that a face has, and its path, if it has one."""

    edges: dict[EdgeKind, Distance]
    path: Path | None

    def sides(self) -> tuple[tuple[Side, ...], ...]:
        """Sets of sides with a path, of which a layout may take any."""
        return SIDES_OF_CHOICE["none" if self.path is None else self.path.side]

    def assumptions(self) -> Iterator[Assumption]:
        """Each distance and path that the request did not give, once."""
        used = {each.field: each for each in (*self.edges.values(), *([self.path.width] if self.path else []))}
        for name, each in used.items():
            if not each.given:
                yield Assumption(name, each.distance_m, "m", each.source)
        if self.path is not None and not self.path.side_given:
            yield Assumption(SIDE_FIELD, self.path.side, None, self.path.side_source)


def access(terms: AccessTerms, kinds: tuple[EdgeKind, ...], covered_share: float = 0.0) -> Access:
    """Distances and path of a face: what the request gives, else the region's rules.

    Parameters
    ----------
    terms : AccessTerms
        What the request gives, and the rules. Where it gives a side, it or the rules give a width.
    kinds : tuple of EdgeKind
        Kinds of the face's edges.
    covered_share : float
        Share of the face that modules cover, 0 to 1, for a ridge rule that depends on it.
    """
    present = [kind for kind in EDGE_KINDS if kind in kinds]
    return Access({kind: _distance(terms, kind, covered_share) for kind in present}, _path(terms))


def _distance(terms: AccessTerms, kind: EdgeKind, covered_share: float) -> Distance:
    for field in (f"{kind}_distance_m", EDGE_FIELD):
        given: float | None = getattr(terms, field)
        if given is not None:
            return Distance(given, OF_REQUEST(field=field), field, given=True)
    rule = terms.rules.rule(kind)
    if rule is None:
        return Distance(terms.rules.edge.distance_m, terms.rules.edge.source, EDGE_FIELD, given=False)
    distance_m, source = _by_share(rule, covered_share)
    return Distance(distance_m, source, f"{kind}_distance_m", given=False)


def _by_share(rule: EdgeRule, covered_share: float) -> tuple[float, Words]:
    """Distance [m] and source of a rule at a covered share."""
    if not isinstance(rule, RidgeRule) or rule.covered_share_max is None or rule.distance_above_m is None:
        return rule.distance_m, rule.source
    percent = rule.covered_share_max * 100.0
    if covered_share > rule.covered_share_max:
        return rule.distance_above_m, COVERED_MORE(source=rule.source, percent=percent)
    return rule.distance_m, COVERED_LESS(source=rule.source, percent=percent)


def _path(terms: AccessTerms) -> Path | None:
    rule, width, side = terms.rules.path, terms.access_path_width_m, terms.access_path_side
    if side == "none" or (rule is None and width is None):
        return None
    if width is not None:
        kept = Distance(width, OF_REQUEST(field=WIDTH_FIELD), WIDTH_FIELD, given=True)
    else:
        assert rule is not None, "a side alone is refused where the region has no width"
        kept = Distance(rule.width_m, rule.source, WIDTH_FIELD, given=False)
    if side is not None:
        return Path(kept, side, side_given=True, side_source=OF_REQUEST(field=SIDE_FIELD))
    if rule is not None:
        return Path(kept, rule.side, side_given=False, side_source=rule.source)
    return Path(kept, "either", side_given=False, side_source=EITHER_SOURCE)


def access_cautions(terms: AccessTerms, used: Access, covered_share: float) -> Iterator[Caution]:
    """Cautions on the paths and distances of a layout that covers this share of its face."""
    rules = terms.rules
    yield from (Caution(OF_REGION, "office", "roof", each) for each in rules.cautions)
    if used.path is None and rules.path is None:
        yield NO_PATH
    elif rules.path is not None and used.path is None:
        yield PATH_LEFT_OUT(width_m=rules.path.width_m)
    elif rules.path is not None and used.path is not None and used.path.width.distance_m < rules.path.width_m:
        yield PATH_TOO_NARROW(width_m=rules.path.width_m, given_m=used.path.width.distance_m)
    for kind, each in used.edges.items():
        rule = rules.rule(kind)
        asked = 0.0 if rule is None else _by_share(rule, covered_share)[0]
        if each.distance_m < asked and each.given:
            yield EDGE_TOO_NEAR(asked_m=asked, kind=EDGES[kind], given_m=each.distance_m)

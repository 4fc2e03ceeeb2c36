"""Irradiance on the back of bifacial modules: what it adds to energy, and the safe factor on currents.

Energy takes a cautious mean: the rear irradiance is a share of the front's, by mounting or as the caller gives it for a face.
The checks of currents take the brightest hour: a factor by mounting, or 1 plus bifaciality times the share given, where that is
larger.

Neglected: unevenness over the back (1 to 2 % of the rear gain), bifaciality of current and power told apart, snow and albedo
that change over the year.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from wattpair_service.engineering.irradiance.plane_of_array import Face
from wattpair_service.engineering.sentences import fixed


@dataclass(frozen=True, slots=True)
class RearSide:
    """The back of a module in one mounting.

    `irradiance_share` is the rear irradiance over the front's (0-1); `current_factor` multiplies currents for the brightest
    hour.
    """

    irradiance_share: float
    current_factor: float


CLOSE_TO_ROOF, OPEN = RearSide(0.0, 1.05), RearSide(0.05, 1.30)
REAR_SIDES: Mapping[str, RearSide] = {
    "close_roof": CLOSE_TO_ROOF,
    "insulated_back": CLOSE_TO_ROOF,
    "open_rack": OPEN,
    "open_rack_faiman": OPEN,
}
"""By mounting. Current factors: 1.05 flush on the roof, 1.30 tilted, read in the help of a permit office's tool of the United
States' energy laboratory. Shares: common practice, no source; 0.05 lies below albedo 0.2 times the ground that an open rack
sees, as its own shade covers part of that ground."""

SHARE_SOURCE = fixed("source.rear_share")
CURRENT_SOURCE = fixed("source.rear_current")


def rear_gain(bifaciality: float, face: Face) -> float:
    """Irradiance that counts on the cells, over the front's: 1 for a module that is not bifacial."""
    share = face.rear_irradiance_share
    return 1.0 + bifaciality * (REAR_SIDES[face.mounting].irradiance_share if share is None else share)


def rear_current_factor(bifaciality: float, mountings: Iterable[str], faces: Iterable[Face]) -> float:
    """Factor on currents for irradiance on the back, the largest over mountings and faces; 1 if the module is not bifacial."""
    if bifaciality == 0.0:
        return 1.0
    by_mounting = [REAR_SIDES[mounting].current_factor for mounting in mountings]
    return max([*by_mounting, *(rear_gain(bifaciality, face) for face in faces)])

"""Distances on the globe."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from wattpair_service.engineering.arrays import FloatArray

EARTH_RADIUS_KM = 6371.0


def distance_km(
    latitude_deg: float, longitude_deg: float, other_latitude_deg: npt.ArrayLike, other_longitude_deg: npt.ArrayLike
) -> FloatArray:
    """Great-circle distance from one location to one or many others [km], on a sphere (haversine)."""
    here, there = np.radians(latitude_deg), np.radians(np.asarray(other_latitude_deg, dtype=np.float64))
    east = np.radians(np.asarray(other_longitude_deg, dtype=np.float64) - longitude_deg)
    half_chord = np.sin((there - here) / 2.0) ** 2 + np.cos(here) * np.cos(there) * np.sin(east / 2.0) ** 2
    return np.asarray(2.0 * EARTH_RADIUS_KM * np.arcsin(np.sqrt(np.minimum(half_chord, 1.0))))

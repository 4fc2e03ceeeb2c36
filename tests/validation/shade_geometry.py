"""Shade's geometry against closed forms and pvlib: views of the sky, shaded areas, lengths of shadows, sun inside an hour."""

from __future__ import annotations

from collections.abc import Iterator
from math import cos, degrees, hypot, pi, radians, sin, tan

import numpy as np
import pandas as pd
import pvlib

from tests.validation.ledger import Check, near
from tests.validation.shade_scenes import LONG_M, SHORT_M, rectangle
from wattpair_service.engineering.equipment import Cells
from wattpair_service.engineering.irradiance.conditions import HourlyWeather, from_hourly
from wattpair_service.engineering.irradiance.plane_of_array import Face, HorizonPoint
from wattpair_service.engineering.sentences import Cited
from wattpair_service.engineering.shade.beam import beam_factors
from wattpair_service.engineering.shade.on_face import face_masks
from wattpair_service.engineering.shade.scene import Building, Orientation, Placement, RoofObject, Shade, Tree
from wattpair_service.engineering.shade.suns import GOLDEN_SHARE, SUNS_PER_HOUR, Suns, suns_inside

PVLIB = "pvlib 0.16.1"
WEDGE = "closed form (1 + cos(tilt + elevation)) / 2, as in pvlib.shading"
WALL = "rectangle at right angles to an element in its plane, closed form; Hamilton and Morgan 1952, NACA TN 2836, from memory"
CAP = "closed form cos(tilt) cos(elevation)^2 of a cap of the sky around the zenith"
SPHERE = "closed form (r / d)^2 cos(angle) of a sphere before an element; Hamilton and Morgan 1952, NACA TN 2836, from memory"
LENGTH = "height over the tangent of the sun's elevation by pvlib 0.16.1"
DIFFUSE_SHARE = 0.002
AREA_SHARE = {"portrait": 0.005, "landscape": 0.03}
"""Of a module's area. A group that lies along the eaves has points at two heights, which do not tell how the edge of the
shadow moves between them."""
LATITUDE_DEG, LONGITUDE_DEG = 48.0, 11.0
CELLS = Cells(3, half_cut=True)
FAR_M = 1e4
RING_SIDES = 360
ROWS: tuple[tuple[float, float, Orientation], ...] = (
    (15.0, 2.6, "portrait"), (30.0, 3.2, "portrait"), (45.0, 3.6, "portrait"), (30.0, 3.2, "landscape")
)  # fmt: skip
"""Tilt [deg] and pitch [m] of rows of 2 m."""
NAMED_TIMES = {
    "summer, 10 h": "2026-06-21 09:00", "summer, 17 h": "2026-06-21 16:00", "equinox, noon": "2026-03-20 11:20",
    "winter, 10 h": "2026-12-21 09:00", "winter, noon": "2026-12-21 11:15",
}  # fmt: skip
"""In UTC."""


def checks() -> Iterator[Check]:
    """What is seen of the sky, then shadows on rows of modules and behind a pole, then the sun's positions."""
    yield from _walls()
    yield from _pits_and_crowns()
    yield from _rows()
    yield from _poles()
    yield from _suns()


def _face(shade: Shade, *, tilt_deg: float = 0.0, horizon: tuple[HorizonPoint, ...] = ()) -> Face:
    return Face("face", tilt_deg, 180.0, 1, "open_rack", 0.0, 0.0, 0.2, horizon, None, shade)


def _at(x_m: float = 0.0, y_m: float = 0.0) -> Placement:
    """A module of no size."""
    return Placement(((x_m, y_m),), 0.0, 0.0, "portrait")


def dome_share(shade: Shade, *, tilt_deg: float = 0.0, horizon: tuple[HorizonPoint, ...] = ()) -> float:
    """Share of an even sky's light on the face that arrives at its module."""
    return float(face_masks(_face(shade, tilt_deg=tilt_deg, horizon=horizon), CELLS).dome[0].mean())


def _wall(distance_m: float, height_m: float, length_m: float, *, middle_east_m: float = 0.0) -> Building:
    """A thin wall to the south, along east and west, its top this much above the face's corner."""
    return Building("wall", middle_east_m, -distance_m, length_m, 1e-6, 90.0, height_m, height_m)


def _walls() -> Iterator[Check]:
    for elevation_deg in (5.0, 10.0, 30.0, 60.0):
        for tilt_deg in (0.0, 20.0, 35.0, 60.0):
            wall = Shade(buildings=(_wall(10.0, 10.0 * tan(radians(elevation_deg)), FAR_M),), placement=_at())
            expected = (1.0 + cos(radians(tilt_deg + elevation_deg))) / (1.0 + cos(radians(tilt_deg)))
            name = f"sky over an endless wall of {elevation_deg:g} deg, tilt {tilt_deg:g} (0-1)"
            yield near(name, expected, dome_share(wall, tilt_deg=tilt_deg), DIFFUSE_SHARE, "Derived", WEDGE)
    for width_m, height_m, distance_m in ((8.0, 3.0, 4.0), (3.0, 6.0, 2.0), (20.0, 9.0, 12.0), (1.0, 1.0, 1.5)):
        module = Placement(((0.0, 0.0),), SHORT_M, LONG_M, "portrait")
        shade = Shade(buildings=(_wall(distance_m, height_m, width_m),), placement=module)
        name = f"sky over a wall of {width_m:g} by {height_m:g} m, {distance_m:g} m before a module (0-1)"
        yield near(name, _sky_over_wall(width_m, height_m, distance_m), dome_share(shade), DIFFUSE_SHARE, "Derived", WALL)


def _sky_over_wall(width_m: float, height_m: float, distance_m: float) -> float:
    """Mean over a module that lies flat."""
    x, y = ((np.arange(100) + 0.5) / 100 * side for side in (SHORT_M, LONG_M))
    aside, away = np.meshgrid(x, y + distance_m)
    reach, hidden = np.hypot(away, height_m), np.zeros(away.shape)
    for half in (width_m / 2.0 - aside, width_m / 2.0 + aside):
        hidden += (np.arctan(half / away) - away / reach * np.arctan(half / reach)) / (2.0 * pi)
    return float(1.0 - hidden.mean())


def _pits_and_crowns() -> Iterator[Check]:
    turns = np.linspace(0.0, 2.0 * pi, RING_SIDES, endpoint=False)
    for elevation_deg, tilt_deg in ((10.0, 0.0), (30.0, 0.0), (60.0, 0.0), (30.0, 20.0), (45.0, 35.0)):
        # A round pit whose floor is the element: on a tilted face the ring is the horizon.
        expected = cos(radians(tilt_deg)) * cos(radians(elevation_deg)) ** 2
        if tilt_deg == 0.0:
            ring = tuple((5.0 * float(np.cos(turn)), 5.0 * float(np.sin(turn))) for turn in turns)
            got = dome_share(Shade((RoofObject("pit", ring, 5.0 * tan(radians(elevation_deg))),), placement=_at()))
        else:
            horizon = tuple(HorizonPoint(float(azimuth), elevation_deg) for azimuth in range(0, 360, 90))
            whole = (1.0 + cos(radians(tilt_deg))) / 2.0
            got = dome_share(Shade(placement=_at()), tilt_deg=tilt_deg, horizon=horizon) * whole
        name = f"sky from the middle of a round pit of {elevation_deg:g} deg, tilt {tilt_deg:g} (0-1)"
        yield near(name, expected, got, DIFFUSE_SHARE, "Derived", CAP)
    for radius_m, away_m, up_m, tilt_deg in (
        (2.0, 5.0, 4.0, 0.0),
        (3.0, 6.0, 6.0, 0.0),
        (2.0, 8.0, 3.0, 0.0),
        (2.5, 7.0, 5.0, 30.0),
    ):
        for passing in (0.0, 0.4):
            crown = Tree(
                "crown", 0.0, -away_m, -1.0, up_m + radius_m + 1.0, up_m - radius_m + 1.0, 2.0 * radius_m, 0.0, (passing,) * 12
            )
            reach_m = hypot(away_m, up_m)
            incidence = (up_m * cos(radians(tilt_deg)) + away_m * sin(radians(tilt_deg))) / reach_m
            whole = (1.0 + cos(radians(tilt_deg))) / 2.0
            expected = 1.0 - (1.0 - passing) * (radius_m / reach_m) ** 2 * incidence / whole
            name = f"sky past a crown of {radius_m:g} m at {away_m:g}, {up_m:g} m, tilt {tilt_deg:g}, {passing:g} pass (0-1)"
            got = dome_share(Shade(trees=(crown,), placement=_at()), tilt_deg=tilt_deg)
            yield near(name, expected, got, DIFFUSE_SHARE, "Derived", SPHERE)


def _rows() -> Iterator[Check]:
    """A row of modules behind another one, as a module as high as the row and a wall up to the front row's upper edge."""
    for tilt_deg, pitch_m, orientation in ROWS:
        height_m = 2.0
        upper_m, ahead_m = height_m * sin(radians(tilt_deg)), pitch_m - height_m * cos(radians(tilt_deg))
        placement = Placement(((-0.5, 0.0),), 1.0, height_m, orientation)
        face = _face(Shade(buildings=(_wall(ahead_m, upper_m, FAR_M),), placement=placement), tilt_deg=tilt_deg)
        masks, errors = face_masks(face, CELLS), []
        for zenith_deg in np.arange(50.0, 90.0, 0.5):
            for azimuth_deg in (118.5, 151.5, 181.5, 220.5):
                share = pvlib.shading.shaded_fraction1d(
                    zenith_deg,
                    azimuth_deg,
                    axis_azimuth=90.0,
                    shaded_row_rotation=tilt_deg,
                    collector_width=height_m,
                    pitch=pitch_m,
                )
                suns = _sun_at(azimuth_deg, tan(radians(90.0 - zenith_deg)))
                one = np.ones(1, dtype=np.int64)
                errors.append(1.0 - float(beam_factors(face, masks, suns, one, one, CELLS).area[0, 0]) - float(share))
        name = f"shaded area of a row, {orientation}, tilt {tilt_deg:g}, pitch {pitch_m:g} m: worst error (0-1)"
        yield near(name, 0.0, max(errors, key=abs), AREA_SHARE[orientation], "RUN", f"{PVLIB}, shaded_fraction1d")
        slant = (np.arange(2000) + 0.5) / 2000
        masking_deg = pvlib.shading.masking_angle(tilt_deg, height_m / pitch_m, slant)
        expected = float(np.mean(1.0 + np.cos(np.radians(tilt_deg + masking_deg)))) / (1.0 + cos(radians(tilt_deg)))
        name = f"sky of a row, {orientation}, tilt {tilt_deg:g}, pitch {pitch_m:g} m (0-1)"
        yield near(
            name, expected, float(masks.dome[0].mean()), DIFFUSE_SHARE, "RUN", f"{PVLIB}, masking_angle at 2,000 heights"
        )


def _sun_at(azimuth_deg: float, tangent: float) -> Suns:
    one = np.ones(1)
    return Suns(np.zeros(1, dtype=np.int64), one, one * azimuth_deg, one * tangent)


def _poles() -> Iterator[Check]:
    half_m, height_m = 0.2, 1.5
    pole = RoofObject("pole", rectangle(-half_m, -half_m, 2.0 * half_m, 2.0 * half_m), height_m)
    for name, moment in NAMED_TIMES.items():
        sun = pvlib.solarposition.get_solarposition(pd.DatetimeIndex([moment], tz="UTC"), LATITUDE_DEG, LONGITUDE_DEG).iloc[0]
        azimuth, tangent = radians(sun["azimuth"]), tan(radians(sun["apparent_elevation"]))
        # From the pole's middle to its side that is turned away from the sun, then along the ground.
        expected = half_m / max(abs(sin(azimuth)), abs(cos(azimuth))) + height_m / tangent

        def is_lit(away_m: float, azimuth: float = azimuth, tangent: float = tangent) -> bool:
            shade = Shade((pole,), placement=_at(-away_m * sin(azimuth), -away_m * cos(azimuth)))
            one, face = np.ones(1, dtype=np.int64), _face(shade)
            factors = beam_factors(face, face_masks(face, CELLS), _sun_at(degrees(azimuth), tangent), one, one, CELLS)
            return bool(factors.groups[0, 0, 0] > 0.5)

        low, high = half_m + 0.1, 20.0
        while high - low > 1e-4:
            middle = (low + high) / 2.0
            low, high = (low, middle) if is_lit(middle) else (middle, high)
        yield near(f"shadow of a pole of {height_m:g} m, {name} [m]", expected, low, 0.01 * expected, "RUN", LENGTH)


def _suns() -> Iterator[Check]:
    middles = pd.date_range("2026-01-01 00:30", periods=8760, freq="h")
    filled = np.full(middles.size, 500.0)
    weather = HourlyWeather(
        latitude_deg=LATITUDE_DEG, longitude_deg=LONGITUDE_DEG, elevation_m=500.0, utc_offset_h=0.0, source=Cited(""),
        middle_utc=middles, ghi_w_m2=filled, dni_w_m2=filled, dhi_w_m2=filled, temp_air_c=filled * 0.0 + 12.0,
        wind_speed_m_s=filled,
    )  # fmt: skip
    year = from_hourly(weather)
    # So high that all of an hour's suns are up.
    high = np.flatnonzero(year.zenith_deg < 70.0)[::13]
    suns = suns_inside(year, high)
    assert year.hour_of_year is not None
    first = np.mod(year.hour_of_year[high] // 24 * GOLDEN_SHARE, 1.0)[:, None]
    shift_h = (np.mod(first + np.arange(SUNS_PER_HOUR) / SUNS_PER_HOUR, 1.0) - 0.5).ravel()
    times = middles[high[suns.hour]] + pd.to_timedelta(shift_h, unit="h")
    true = pvlib.solarposition.get_solarposition(times.tz_localize("UTC"), LATITUDE_DEG, LONGITUDE_DEG, altitude=500.0)
    error_deg = np.degrees(np.arctan(suns.elevation_tangent)) - true["apparent_elevation"].to_numpy()
    aside_deg = (suns.azimuth_deg - true["azimuth"].to_numpy() + 180.0) % 360.0 - 180.0
    source = f"{PVLIB}, solar position at the same minutes"
    yield near(
        "sun inside the hour: worst error of elevation [deg]", 0.0, error_deg[np.abs(error_deg).argmax()], 0.1, "RUN", source
    )
    yield near(
        "sun inside the hour: worst error of azimuth [deg]", 0.0, aside_deg[np.abs(aside_deg).argmax()], 0.25, "RUN", source
    )

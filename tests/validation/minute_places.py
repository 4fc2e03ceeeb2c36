"""The places whose measured minutes the states inside the hour are calibrated on.

Three come with packages of the registry; the others are files that are not distributed here (`calibrate_subhourly` takes them).
Acknowledgements: Golden, Solar Radiation Research Laboratory; Payerne and Abashiri, Baseline Surface Radiation Network (the
latter run by the Japan Meteorological Agency); Graz, AEE INTEC and SOLID, Tschopp et al. 2023, Data in Brief
(10.1016/j.dib.2023.109224, CC BY-SA 4.0); Seattle, Solar Radiation Monitoring Laboratory, University of Oregon; Lyngby,
Technical University of Denmark; Petrolina, SONDA network, INPE.
"""

from __future__ import annotations

import io
import tempfile
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pandas as pd
import pvlib

from tests.open_data import pvlib_archive, source_archive, source_file
from tests.validation.minute_clipping import Case, case, roof
from tests.validation.minutes import Place, means_of_snapshots, station


@dataclass(frozen=True, slots=True)
class MinutePlace:
    """A station's place and climate; `are_snapshots` where its minutes are readings and not means."""

    place: Place
    climate: str
    are_snapshots: bool = False

    def cases(self, frame: pd.DataFrame) -> list[Case]:
        """The three faces that clipping is compared on; the steep one faces the equator."""
        measured = station(means_of_snapshots(frame) if self.are_snapshots else frame, self.place)
        equator_deg = 180.0 if self.place.latitude_deg >= 0.0 else 0.0
        faces = roof(30.0, equator_deg), roof(20.0, 90.0), roof(30.0, 270.0)
        return [case(measured, face) for face in faces]


PLACES = {
    "golden": MinutePlace(Place(39.742, -105.18, 1829.0), "continental plateau"),
    "payerne": MinutePlace(Place(46.815, 6.944, 491.0), "temperate inland"),
    "graz": MinutePlace(Place(47.047201, 15.436428, 344.0), "temperate inland"),
    "abashiri": MinutePlace(Place(44.018, 144.28, 38.0), "cool maritime"),
    "seattle": MinutePlace(Place(47.653871, -122.309481, 70.0), "cool maritime"),
    "lyngby": MinutePlace(Place(55.79064, 12.52505, 50.0), "cool maritime", are_snapshots=True),
    "petrolina": MinutePlace(Place(-9.0689, -40.3197, 387.0), "tropical"),
}

LIBINSITU_SHA256 = "6c86855e5392b5d8e8f5c8342301868f11a2a929472029e56bbe9099e97abdd4"
SUNPEEK_SHA256 = "e7e006631b3ce0c1cab4fef2ab349f5ab8511151be312a9d53ff47248a6e4a9d"


def golden() -> pd.DataFrame:
    """Golden 2020."""
    archive = source_archive("libinsitu", "1.7.1", LIBINSITU_SHA256)
    raw = pd.read_csv(io.BytesIO(source_file(archive, "notebooks/data/sample-data.csv.gz")), compression="gzip")
    names = {"global": "ghi", "direct": "dni", "diffuse": "dhi", "temp": "temp_air"}
    frame = raw.rename(columns=names).set_index(pd.DatetimeIndex(pd.to_datetime(raw["date"] + " " + raw["time"])))
    frame["temp_air"] -= 273.15
    return frame[list(names.values())]


def payerne() -> pd.DataFrame:
    """Payerne, June 2016."""
    archive = pvlib_archive()
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "pay0616.dat.gz"
        path.write_bytes(source_file(archive, "tests/data/bsrn-pay0616.dat.gz"))
        frame, _ = pvlib.iotools.read_bsrn(path)
    frame.index = frame.index.tz_localize(None)
    return pd.DataFrame(frame[["ghi", "dni", "dhi", "temp_air"]])


def graz() -> pd.DataFrame:
    """Graz 2017, global and beam only."""
    archive = source_archive("sunpeek_exampledata", "0.1.0.dev1", SUNPEEK_SHA256)
    content = source_file(archive, "sunpeek_exampledata/FHW__array_ArcS__2017-01-01__2017-12-31__1m__UTC.csv")
    names = {"timestamps_UTC": "time_utc", "rd_ghi": "ghi", "rd_dni": "dni", "te_amb": "temp_air"}
    frame = pd.read_csv(io.BytesIO(content), sep=";", usecols=list(names)).rename(columns=names)
    time = pd.to_datetime(frame.pop("time_utc"), utc=True).dt.tz_localize(None)
    frame["temp_air"] -= 273.15
    return frame.assign(dhi=np.nan).set_index(pd.DatetimeIndex(time))


REGISTRY: dict[str, Callable[[], pd.DataFrame]] = {"golden": golden, "payerne": payerne, "graz": graz}
"""The places whose minutes come with a package of the registry."""

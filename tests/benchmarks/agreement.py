"""That the core and pvlib's scripts agree: yearly AC energy of each face with each candidate, where both model the same.

That is the plain hourly year, with units that know no limit but their AC power and draw nothing at night. ModelChain takes all
diffuse light through the glass by one factor, where the core and the tuned script take what comes from around the sun at the
sun's own angle; the core is given ModelChain's light behind the glass where it is held against ModelChain.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import replace

import numpy as np
import pvlib

from tests.benchmarks.pvlib_scripts import diffuse_factor, one_chain, shared_script
from tests.benchmarks.roofs import PvlibCase, microinverter, weather, without_limits
from wattpair_service.engineering.energy.energy_balance import pairing_year
from wattpair_service.engineering.irradiance.conditions import Conditions, from_hourly
from wattpair_service.engineering.irradiance.plane_of_array import MARTIN_RUIZ_A_R, Face, PlaneOfArray, plane_of_array
from wattpair_service.engineering.module.dc_response import dc_response

AGREEMENT_SHARE = 0.005

Pairs = Iterable[tuple[int, int]]
Energies = Mapping[tuple[int, int], float]
"""Yearly AC energy [kWh] by candidate and face."""


def core_energies(case: PvlibCase, *, glass_of_the_chain: bool = False) -> Energies:
    """The core's, without subhourly variability."""
    conditions, found = from_hourly(weather()), {}
    for at, face in enumerate(case.roof.faces):
        plane = plane_of_array(conditions, face, transposition="perez_1990")
        if glass_of_the_chain:
            plane = _behind_the_chains_glass(conditions, plane, face)
        response = dc_response(conditions, plane, face=face, parameters=case.roof.parameters)
        for index in range(len(case.inverters)):
            unit = without_limits(microinverter(index, len(case.inverters)))
            found[index, at] = pairing_year(response, unit).year.delivered_kwh
    return found


def _behind_the_chains_glass(conditions: Conditions, plane: PlaneOfArray, face: Face) -> PlaneOfArray:
    incidence = pvlib.irradiance.aoi(face.tilt_deg, face.azimuth_deg, conditions.zenith_deg, conditions.azimuth_deg)
    beam = conditions.dni_w_m2 * np.maximum(np.cos(np.radians(incidence)), 0.0)
    through = beam * pvlib.iam.martin_ruiz(incidence, a_r=MARTIN_RUIZ_A_R)
    return replace(plane, effective_irradiance_w_m2=through + (plane.poa_global_w_m2 - beam) * diffuse_factor(face))


def shared_energies(case: PvlibCase) -> Energies:
    """What `shared_script` gives, for all."""
    rows = shared_script(case.roof, case.inverters)
    return {(index, at): energy for index, row in enumerate(rows) for at, energy in enumerate(row)}


def chain_energies(case: PvlibCase, pairs: Pairs) -> Energies:
    """ModelChain's, for some candidates and faces."""
    return {(index, at): one_chain(case.roof, case.roof.faces[at], case.inverters[index]) for index, at in pairs}


def largest_difference(core: Energies, script: Energies) -> float:
    """Largest relative difference over all that the script computed (0-1)."""
    return max(abs(core[pair] / energy - 1.0) for pair, energy in script.items())


def require_agreement(core: Energies, script: Energies) -> float:
    """The largest difference; a ratio of times means nothing where it is too large."""
    found = largest_difference(core, script)
    assert found <= AGREEMENT_SHARE, f"the core and the script differ by {found:.2%}; at most {AGREEMENT_SHARE:.1%} is allowed"
    return found

"""What each shaded module earns over the years, beside what it and its share of a microinverter cost.

A module's energy is its share of the energy that its unit delivers, by DC energy; its value the same share of the roof's. So a
kilowatt-hour counts as much as the mean one: where much is used at home, a module less loses rather less than that.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from wattpair_service.engineering.arrays import FloatArray
from wattpair_service.engineering.energy.face_cache import FaceCache
from wattpair_service.engineering.equipment import InputWiring
from wattpair_service.engineering.inverter.power_steps import power_steps
from wattpair_service.engineering.irradiance.plane_of_array import Face
from wattpair_service.engineering.module.single_diode import fit
from wattpair_service.engineering.selection.candidates import Candidate
from wattpair_service.engineering.selection.request import ModuleOffer, SelectionRequest, UnitOffer, unit_cost


@dataclass(frozen=True, slots=True)
class ModulePosition:
    """One module of a face, by its number from 1: energy that it delivers in the first year, before the losses of the system.

    `value` is the present value of its energy over the horizon and `cost` that of the module and its share of a microinverter;
    None where a price is missing, as is `pays`.
    """

    module_number: int
    delivered_kwh: float
    value: float | None
    cost: float | None
    pays: bool | None


@dataclass(frozen=True, slots=True)
class FacePositions:
    """The modules of a face whose shade differs.

    `left_out` is what the layout's field of that name takes to design the face without the modules that do not earn their cost:
    their numbers, and those of modules that stay away already. `kept_delivered_kwh` is what the others deliver in the first
    year.
    """

    modules: tuple[ModulePosition, ...]
    left_out: tuple[int, ...]
    kept_delivered_kwh: float

    @property
    def not_paying(self) -> frozenset[int]:
        """Numbers among `modules` of those that do not earn their cost."""
        return frozenset(each.module_number for each in self.modules if each.pays is False)


def face_positions(
    request: SelectionRequest,
    cache: FaceCache,
    face: Face,
    module: ModuleOffer,
    unit: UnitOffer,
    built: Candidate,
    stay_away: frozenset[int] = frozenset(),
) -> FacePositions | None:
    """The modules of a face with the pairing that is built; None where all of them see the same.

    `stay_away` has the numbers of modules that the layout leaves out already, in the layout with them.
    """
    if face.shade is None or not face.shade.is_near or built.energy is None:
        return None
    delivered_kwh = _delivered_kwh(cache, face, module, unit, request.input_wiring)
    value_per_kwh, cost = None, None
    if built.money is not None and module.price is not None and built.energy.first_year.delivered_kwh > 0.0:
        energy_value = built.money.net_present_value + built.money.lifetime_cost
        value_per_kwh = energy_value / built.energy.first_year.delivered_kwh
        cost = module.price + unit_cost(request, unit).total / unit.microinverter.module_capacity(request.input_wiring)
    modules = tuple(
        _position(number, energy_kwh, value_per_kwh, cost) for number, energy_kwh in enumerate(delivered_kwh.tolist(), 1)
    )
    in_layout = [number for number in range(1, len(modules) + len(stay_away) + 1) if number not in stay_away]
    not_paying = [number for number, each in zip(in_layout, modules, strict=True) if each.pays is False]
    return FacePositions(
        modules,
        tuple(sorted({*stay_away, *not_paying})) if not_paying else (),
        sum(each.delivered_kwh for each in modules if each.pays is not False),
    )


def _position(number: int, energy_kwh: float, value_per_kwh: float | None, cost: float | None) -> ModulePosition:
    if value_per_kwh is None or cost is None:
        return ModulePosition(number, energy_kwh, None, None, None)
    value = energy_kwh * value_per_kwh
    return ModulePosition(number, energy_kwh, value, cost, value >= cost)


def _delivered_kwh(cache: FaceCache, face: Face, module: ModuleOffer, unit: UnitOffer, wiring: InputWiring) -> FloatArray:
    """Energy that each module delivers through its unit [kWh]."""
    shaded = cache.shaded_face(face, module.module, fit(module.module))
    dc_wh, delivered_wh, first = shaded.module_energy_wh().sum(axis=1), [], 0
    for on_unit, count in unit.microinverter.unit_fillings(face.module_count, wiring).items():
        units = shaded.units(first, count, wiring, on_unit)
        steps = power_steps(units.response, unit.microinverter, input_wiring=wiring, module_count=on_unit)
        of_units_wh, available_wh = (
            shaded.by_unit_and_month(power_w, units.points, units.kind_of_unit).sum(axis=1)
            for power_w in (steps.delivered_w, steps.available_w)
        )
        kept_share = np.divide(of_units_wh, available_wh, out=np.zeros_like(available_wh), where=available_wh > 0.0)
        delivered_wh.append((dc_wh[first : first + count].reshape(-1, on_unit) * kept_share[:, None]).ravel())
        first += count
    return np.concatenate(delivered_wh) / 1000.0

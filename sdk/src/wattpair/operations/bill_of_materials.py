"""POST /v1/bill-of-materials."""

from __future__ import annotations

from collections.abc import Sequence

from wattpair.inputs import FaceCount, Fields, TrunkFeed
from wattpair.operations.base import Operations
from wattpair.results import BillOfMaterialsResult


class BillOfMaterialsOperations(Operations):
    """What has to be ordered, and what it weighs."""

    def list_materials(
        self,
        *,
        faces: Sequence[FaceCount | Fields],
        unit_ac_current_a: float,
        module_mass_kg: float,
        unit_mass_kg: float,
        region: str | None = None,
        phase_count: int | None = None,
        modules_per_unit: int | None = None,
        device_rating_a: float | None = None,
        continuous_current_factor: float | None = None,
        units_per_trunk_max: int | None = None,
        trunk_feed: TrunkFeed | None = None,
        gateway_units_max: int | None = None,
        spare_share: float | None = None,
        mounting_mass_per_module_kg: float | None = None,
    ) -> BillOfMaterialsResult:
        """Parts to order, branch circuits and masses, from counts.

        Parameters
        ----------
        faces : sequence of FaceCount
            The faces of the roof.
        unit_ac_current_a : float
            Rated AC current of one microinverter [A].
        module_mass_kg, unit_mass_kg : float
            Mass of one module and of one microinverter [kg].
        region : {"international", "united_states"}, optional
            Region whose rules apply.
        phase_count : int, optional
            Phases of the supply that the units are spread over.
        modules_per_unit : int, optional
            Modules on one microinverter.
        device_rating_a : float, optional
            Rating of a branch circuit's protective device [A].
        continuous_current_factor : float, optional
            Factor on the continuous current of a branch circuit.
        units_per_trunk_max : int, optional
            Most microinverters on one trunk cable, by its maker.
        trunk_feed : {"end", "centre"}, optional
            Where a trunk is fed.
        gateway_units_max : int, optional
            Most microinverters on one communication gateway.
        spare_share : float, optional
            Spare microinverters as a share of those installed, 0 to 1.
        mounting_mass_per_module_kg : float, optional
            Mass of rails, clamps and hooks for one module [kg].

        Returns
        -------
        BillOfMaterialsResult
            Parts, circuits and dead load.
        """
        return self._calculate(
            BillOfMaterialsOperations.list_materials,
            "/v1/bill-of-materials",
            {
                "faces": faces,
                "region": region,
                "phase_count": phase_count,
                "unit_ac_current_a": unit_ac_current_a,
                "modules_per_unit": modules_per_unit,
                "device_rating_a": device_rating_a,
                "continuous_current_factor": continuous_current_factor,
                "units_per_trunk_max": units_per_trunk_max,
                "trunk_feed": trunk_feed,
                "gateway_units_max": gateway_units_max,
                "spare_share": spare_share,
                "module_mass_kg": module_mass_kg,
                "unit_mass_kg": unit_mass_kg,
                "mounting_mass_per_module_kg": mounting_mass_per_module_kg,
            },
        )

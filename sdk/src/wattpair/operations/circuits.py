"""POST /v1/circuits."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from wattpair.call import post

if TYPE_CHECKING:
    from wattpair.inputs import CircuitFace, ConductorTable, Fields, RegionRules, TrunkFeed
    from wattpair.results import CircuitsResult


class CircuitsOperations:
    """How the microinverters are wired and connected."""

    @post("/v1/circuits")
    def plan_circuits(
        self,
        *,
        unit_ac_current_a: float,
        faces: Sequence[CircuitFace | Fields],
        region: str | None = None,
        region_rules: RegionRules | Fields | None = None,
        phase_count: int | None = None,
        modules_per_unit: int | None = None,
        device_rating_a: float | None = None,
        continuous_current_factor: float | None = None,
        units_per_trunk_max: int | None = None,
        circuits_may_cross_faces: bool | None = None,
        face_crossing_m: float | None = None,
        trunk_feed: TrunkFeed | None = None,
        voltage_v: float | None = None,
        voltage_rise_limit_share: float | None = None,
        conductor_table: ConductorTable | None = None,
        conductor_temp_c: float | None = None,
        trunk_size: str | None = None,
        trunk_ampacity_a: float | None = None,
        home_run_length_m: float | None = None,
        home_run_size: str | None = None,
        home_run_ampacity_a: float | None = None,
        supply_length_m: float | None = None,
        supply_size: str | None = None,
        supply_ampacity_a: float | None = None,
        busbar_rating_a: float | None = None,
        main_device_a: float | None = None,
        several_premises: bool | None = None,
    ) -> CircuitsResult:
        """Branch circuits, voltage rise and connection route.

        Parameters
        ----------
        unit_ac_current_a : float
            Rated AC current of one microinverter [A].
        faces : sequence of CircuitFace
            The faces of the roof, in the order of the trunk.
        region : {"australia", "germany", "great_britain", "international", "ireland", "netherlands", "united_states"}, optional
            Region whose rules apply.
        region_rules : RegionRules, optional
            A region of the caller's own, which then applies in place of `region`.
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
        circuits_may_cross_faces : bool, optional
            Whether a circuit may serve several faces.
        face_crossing_m : float, optional
            Length of trunk from the last unit of one face to the first of the next [m].
        trunk_feed : {"end", "centre"}, optional
            Where a trunk is fed.
        voltage_v : float, optional
            Nominal voltage of a unit's circuit [V].
        voltage_rise_limit_share : float, optional
            Limit on the voltage rise as a share of the nominal voltage.
        conductor_table : ConductorTable, optional
            Table of standard copper conductors, such as "iec_60228_class_5".
        conductor_temp_c : float, optional
            Operating temperature of the conductors [degC].
        trunk_size : str, optional
            Conductor of the trunk, as its table writes it: "2.5 mm2", "12 AWG".
        trunk_ampacity_a : float, optional
            Current that the trunk carries as it is installed, by its maker or code; checked where given [A].
        home_run_length_m : float, optional
            Length of cable from a trunk to the distribution board, one way [m].
        home_run_size : str, optional
            Conductor of the home run; where left out the smallest by voltage only, or the trunk's where no limit is
            known.
        home_run_ampacity_a : float, optional
            Current that the home run carries as it is installed, by its maker or code; checked where given [A].
        supply_length_m : float, optional
            Length of cable from the distribution board to the connection point, one way [m].
        supply_size : str, optional
            Conductor of the supply cable; required where it has a length.
        supply_ampacity_a : float, optional
            Current that the supply cable carries as it is installed, by its maker or code; checked where given [A].
        busbar_rating_a : float, optional
            Rating of the distribution board's busbar [A].
        main_device_a : float, optional
            Rating of its main device [A].
        several_premises : bool, optional
            Whether other premises close by are being connected in the same weeks.

        Returns
        -------
        CircuitsResult
            Circuits, the voltage rise of each, and the connection route.
        """

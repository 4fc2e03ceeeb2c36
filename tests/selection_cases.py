"""Selections that the tests share: invented units on an invented roof in a real typical year."""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from typing import Any

import numpy as np

from tests.validation.yields import AMSTERDAM, amsterdam, module_420, roof_face, unit
from wattpair_service.engineering.energy.home_use import HomeUse, Tariff
from wattpair_service.engineering.energy.system_losses import SystemLosses
from wattpair_service.engineering.equipment import ONE_MODULE, Microinverter
from wattpair_service.engineering.irradiance.conditions import Conditions
from wattpair_service.engineering.irradiance.subhourly import SubhourlyStates
from wattpair_service.engineering.selection.request import ModuleOffer, SelectionRequest, Terms, UnitOffer
from wattpair_service.engineering.selection.selection import SelectionResult, selection
from wattpair_service.engineering.sentences import Cited
from wattpair_service.engineering.site import DesignTemperatures
from wattpair_service.engineering.site_year import SiteYear
from wattpair_service.rules import electrical_rules

DESIGN = DesignTemperatures(-15.0, Cited("a test"), 36.0, Cited("a test"))
TERMS = Terms(0.03, 25, 0.005, 1.0 / 3000.0, 90.0, 0.0, 0.0, 0.0)
TARIFF = Tariff(0.28, 0.07, 0.0)
NO_LOSSES = SystemLosses(0.0, 0.0, 0.0, 0.0)
AT_HOME = HomeUse(0.35, None, None)


@cache
def states() -> SubhourlyStates:
    """What happens inside Amsterdam's hours."""
    return amsterdam_year().subhourly_states()


def amsterdam_year(conditions: Conditions | None = None) -> SiteYear:
    """Amsterdam's typical year, or other conditions there."""
    return SiteYear(amsterdam() if conditions is None else conditions, AMSTERDAM, DESIGN, "measured_hourly")


def offer(power_w: float, price: float | None, **changes: Any) -> UnitOffer:
    """A unit whose only limit is its AC power; `changes` are the microinverter's."""
    microinverter: Microinverter = replace(unit(power_w), **changes)
    return UnitOffer(microinverter, price, 10, None)


def request(*units: UnitOffer, azimuths: tuple[float, ...] = (180.0,), **changes: Any) -> SelectionRequest:
    """Ten modules of 420 W on each face."""
    given = SelectionRequest(
        modules=(ModuleOffer(module_420(), None),),
        units=units,
        faces=tuple(roof_face(azimuth) for azimuth in azimuths),
        transposition="perez_1990",
        input_wiring=ONE_MODULE,
        home_use=AT_HOME,
        tariff=TARIFF,
        terms=TERMS,
        losses=NO_LOSSES,
    )
    return replace(given, **changes)


def select(asked: SelectionRequest) -> SelectionResult:
    """The selection in Amsterdam's typical year."""
    return selection(asked, electrical_rules("international"), amsterdam_year())


def load(power_w: float) -> HomeUse:
    """The same load in every hour."""
    return HomeUse(None, np.full((12, 24), power_w), None)

"""The service's own state."""

from __future__ import annotations

from http import HTTPStatus
from typing import TYPE_CHECKING

from wattpair.call import get

if TYPE_CHECKING:
    from wattpair.results import Liveness, Readiness


class HealthOperations:
    """Whether the service is there, and fit to answer."""

    @get("/health/live")
    def check_live(self) -> Liveness:
        """Whether the service's process runs; raises like every call where it does not."""

    @get("/health/ready", also=HTTPStatus.SERVICE_UNAVAILABLE)
    def check_ready(self) -> Readiness:
        """Whether the service can read its data; one that is not ready is an answer like any other, and its faults say why."""

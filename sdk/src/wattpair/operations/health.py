"""The service's own state."""

from __future__ import annotations

from http import HTTPStatus

from wattpair.operations.base import Operations
from wattpair.results import Liveness, Readiness


class HealthOperations(Operations):
    """Whether the service is there, and fit to answer."""

    def check_live(self) -> Liveness:
        """Whether the service's process runs; raises like every call where it does not."""
        return self._transport.get("/health/live", Liveness)

    def check_ready(self) -> Readiness:
        """Whether the service can read its data; one that is not ready is an answer like any other, and its faults say why."""
        return self._transport.get("/health/ready", Readiness, also=HTTPStatus.SERVICE_UNAVAILABLE)

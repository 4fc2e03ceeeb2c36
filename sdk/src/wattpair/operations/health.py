"""The service's own state."""

from __future__ import annotations

from wattpair.operations.base import Operations
from wattpair.results import Liveness


class HealthOperations(Operations):
    """Whether the service is there."""

    def check_live(self) -> Liveness:
        """Whether the service's process runs; raises like every call where it does not."""
        return self._transport.get("/health/live", Liveness)

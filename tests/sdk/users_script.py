"""A user's script as a type checker sees it: every call gives what its documentation says. It is checked, not run."""

from __future__ import annotations

from collections.abc import Coroutine
from typing import Any, assert_type

import pandas as pd

from wattpair import (
    AsyncClient,
    Client,
    ClippingResult,
    DesignResult,
    Exchange,
    FieldError,
    InvalidFields,
    Liveness,
    Module,
    Outcome,
    Problem,
    Region,
    SizingResult,
    Verdict,
)
from wattpair.testing import FakeCall, FakeService


def waiting(client: Client, module: Module) -> None:
    """Calls of the waiting client."""
    sizing = client.size_pairings(site={"latitude_deg": 52.1, "longitude_deg": 5.2}, module=module, microinverters=[{}])
    assert_type(sizing, SizingResult)
    assert_type(sizing.pairings[0].verdict, Verdict)
    assert_type(sizing.to_frame(), pd.DataFrame)
    assert_type(sizing.design_temperatures.to_series(), "pd.Series[Any]")
    assert_type(client.read_region(name="ireland"), Region)
    assert_type(client.many(client.size_pairings, [{}], workers=8), list[Outcome[SizingResult]])
    assert_type(client.designs([{}], resume="designs.jsonl")[0].unwrap(), DesignResult)


async def awaiting() -> None:
    """Calls of the asynchronous client."""
    async with AsyncClient("http://127.0.0.1:8080", api_key="key", timeout=(1, 2), retries=0) as client:
        coroutine = client.check_live()
        live = await assert_type(coroutine, Coroutine[Any, Any, Liveness])
        assert_type(live, Liveness)
        clipping = await client.compute_clipping(site={}, module={}, microinverters=[], faces=[])
        assert_type(clipping, ClippingResult)
        assert_type(await client.many(client.compute_clipping, [{}]), list[Outcome[ClippingResult]])
        assert_type(await client.designs([{}]), list[Outcome[DesignResult]])


def failing(client: Client) -> None:
    """What errors carry."""
    try:
        client.check_ready()
    except InvalidFields as error:
        assert_type(error.field_errors, tuple[FieldError, ...])
        assert_type(error.field_errors[0].argument, str)
        assert_type(error.problem, Problem | None)
        assert_type(error.retry_after, int | None)
        assert_type(error.request_id, str)


def note(exchange: Exchange) -> None:
    """A hook."""
    assert_type(exchange.status, int | None)


def testing() -> None:
    """The fake service."""
    fake = FakeService()
    with fake.client(on_exchange=note) as client:
        assert_type(client, Client)
    assert_type(fake.async_client(), AsyncClient)
    assert_type(fake.calls, list[FakeCall])

"""A user's script as a type checker sees it: every call gives what its documentation says. `mypy` checks it, nobody runs it."""

from __future__ import annotations

from collections.abc import Coroutine, Sequence
from pathlib import Path
from typing import Any, Literal, assert_type

import httpx
import pandas as pd
import requests

from wattpair import (
    AsyncClient,
    Client,
    ClippingResult,
    DesignResult,
    Document,
    Exchange,
    FieldError,
    InvalidFields,
    Liveness,
    Module,
    Outcome,
    Problem,
    Region,
    Sheet,
    SizingResult,
)
from wattpair.testing import FakeCall, FakeService


def waiting(client: Client, module: Module) -> None:
    """Calls of the waiting client."""
    sizing = client.size_pairings(site={"latitude_deg": 52.1, "longitude_deg": 5.2}, module=module, microinverters=[{}])
    assert_type(sizing, SizingResult)
    assert_type(sizing.pairings[0].verdict, Literal["ok", "caution", "fail"])
    assert_type(sizing.to_frame(), pd.DataFrame)
    assert_type(sizing.design_temperatures.to_series(), "pd.Series[Any]")
    assert_type(client.read_region(name="ireland"), Region)
    assert_type(client.many(client.size_pairings, [{}], workers=8), list[Outcome[SizingResult]])
    sheet = client.sheet_pdf(site={}, modules=[], candidates=[{}], faces=[], sheet=Sheet(company="Example"))
    assert_type(sheet, Document)
    assert_type(sheet.content, bytes)
    assert_type(sheet.save("sheet.pdf"), Path)
    assert_type(client.sheet_html(site={}, modules=[], candidates=[], faces=[]).text, str)
    parts = client.materials_csv(faces=[], unit_ac_current_a=1.3, module_mass_kg=21.3, unit_mass_kg=1)
    assert_type(parts, Document)
    assert_type(client.many(client.sheet_html, [{}]), list[Outcome[Document]])
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
        assert_type(await client.materials_csv(faces=[], unit_ac_current_a=1, module_mass_kg=2, unit_mass_kg=1), Document)
        sheet = client.sheet_pdf(site={}, modules=[], candidates=[], faces=[])
        assert_type(await assert_type(sheet, Coroutine[Any, Any, Document]), Document)
        assert_type(await client.many(client.sheet_pdf, [{}]), list[Outcome[Document]])
        assert_type(await client.designs([{}]), list[Outcome[DesignResult]])


def failing(client: Client) -> None:
    """What errors carry."""
    try:
        client.check_ready()
    except InvalidFields as error:
        assert_type(error.field_errors, Sequence[FieldError])
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
    assert_type(fake.session(), requests.Session)
    assert_type(fake.async_session(), httpx.AsyncClient)
    with Client("https://wattpair.example", session=fake.session()) as mine:
        assert_type(mine.check_live(), Liveness)
    fake.answer("sheet_pdf", Document(media_type="application/pdf", content=b""))
    assert_type(fake.calls, list[FakeCall])


def mistakes(client: Client, asynchronous: AsyncClient) -> None:
    """What a type checker must find: mypy says where a comment ignores nothing."""
    client.size_pairings(site={}, module={}, microinverters=[], colour="red")  # type: ignore[call-arg]
    client.size_pairings(site={}, module={})  # type: ignore[call-arg]
    client.size_pairings({}, module={}, microinverters=[])  # type: ignore[call-arg]
    client.size_pairings(site={}, module={}, microinverters=[], transposition="perez")  # type: ignore[arg-type]
    client.size_pairings(site=3, module={}, microinverters=[])  # type: ignore[arg-type]
    client.check_live().state  # type: ignore[attr-defined]  # noqa: B018
    asynchronous.check_live().status  # type: ignore[attr-defined]  # noqa: B018
    client.sheet_pdf(site={}, modules=[], candidates=[])  # type: ignore[call-arg]
    client.materials_csv(faces=[], unit_ac_current_a="1", module_mass_kg=2, unit_mass_kg=1)  # type: ignore[arg-type]
    client.sheet_html(site={}, modules=[], candidates=[], faces=[]).to_frame()  # type: ignore[attr-defined]

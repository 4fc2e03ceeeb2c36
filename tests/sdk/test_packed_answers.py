"""Both clients get the real service's longer answers packed, and read them as they read plain ones."""

from __future__ import annotations

from typing import Any

import httpx
import requests

from tests.sdk.both import kinds, opened
from tests.sdk.conftest import MODULE, PLACE, UNITS


def noting_headers(kind: str, seen: list[Any]) -> Any:
    """A session that notes the headers of each answer as they came over the wire."""
    if kind == "waiting":
        session = requests.Session()
        session.hooks["response"].append(lambda response, **_: seen.append(response.headers))
        return session

    async def note(response: httpx.Response) -> None:
        seen.append(response.headers)

    return httpx.AsyncClient(event_hooks={"response": [note]})


@kinds
def test_answers_come_packed(service_url: str, kind: str) -> None:
    seen: list[Any] = []
    asked: Any = {"site": PLACE, "module": MODULE, "microinverters": UNITS[:1]}
    with opened(kind, service_url, session=noting_headers(kind, seen)) as client:
        packed = client.size_pairings(**asked)
    with opened(kind, service_url, headers={"Accept-Encoding": "identity"}, session=noting_headers(kind, seen)) as client:
        plain = client.size_pairings(**asked)
    assert [headers.get("Content-Encoding") for headers in seen] == ["gzip", None]
    assert packed == plain

"""The answers that `wattpair.testing` carries: `python -m tests.sdk.canned` writes them from the real service."""

from __future__ import annotations

import json
from typing import Any

from tests.sdk.contract import ROOT, Operation, operations
from wattpair.operations import Operations
from wattpair_service.app import create_app
from wattpair_service.settings import Settings

FOLDER = ROOT / "sdk" / "src" / "wattpair" / "testing" / "answers"
OPERATIONS = [operation for operation in operations() if hasattr(Operations, operation.name)]


def answer_of(operation: Operation) -> dict[str, Any]:
    """What the service answers to an operation's example."""
    service = create_app(Settings()).test_client()
    if operation.verb == "POST":
        response = service.post(operation.path, json=operation.examples[0])
    else:
        names = (operation.request or {}).get("properties", {})
        response = service.get(operation.path.format(**{name: schema["enum"][0] for name, schema in names.items()}))
    assert response.status_code == 200, response.text
    answer: dict[str, Any] = json.loads(response.text)
    return answer


def main() -> None:
    """Write every answer anew."""
    for operation in OPERATIONS:
        text = json.dumps(answer_of(operation), ensure_ascii=False, separators=(",", ":"))
        (FOLDER / f"{operation.name}.json").write_text(text + "\n", encoding="utf-8")


if __name__ == "__main__":
    main()

"""The answers that `wattpair.testing` carries: `python -m tests.sdk.canned` writes them from the real service.

The sheet on paper bears the fonts of the machine that writes it.
"""

from __future__ import annotations

import json
from pathlib import Path

from tests.sdk.contract import ROOT, Operation, operations
from wattpair.call import JSON, Call
from wattpair.operations import CALLS
from wattpair.testing.fake_service import SUFFIXES
from wattpair_service.app import create_app
from wattpair_service.settings import Settings

FOLDER = ROOT / "sdk" / "src" / "wattpair" / "testing" / "answers"
OPERATIONS = [operation for operation in operations() if operation.name in CALLS]
DOCUMENTS = [
    (call, operation)
    for call in CALLS.values()
    for operation in OPERATIONS
    if call.media_type != JSON and (call.verb, call.path) == (operation.verb, operation.path)
]
"""The calls whose answer is no JSON, each with the operation that it is a form of."""


def answer_of(operation: Operation, media_type: str = JSON) -> bytes:
    """What the service answers to an operation's example."""
    service = create_app(Settings()).test_client()
    headers = {"Accept": media_type}
    if operation.verb == "POST":
        response = service.post(operation.path, json=operation.examples[0], headers=headers)
    else:
        names = operation.request["properties"]
        path = operation.path.format(**{name: schema["enum"][0] for name, schema in names.items()})
        response = service.get(path, headers=headers)
    assert response.status_code == 200, response.text
    content: bytes = response.data
    return content


def file_of(call: Call) -> Path:
    """Where the answer of a call is."""
    return FOLDER / f"{call.name}.{SUFFIXES[call.media_type]}"


def main() -> None:
    """Write every answer anew."""
    for operation in OPERATIONS:
        text = json.dumps(json.loads(answer_of(operation)), ensure_ascii=False, separators=(",", ":"))
        (FOLDER / f"{operation.name}.json").write_text(text + "\n", encoding="utf-8")
    for call, operation in DOCUMENTS:
        file_of(call).write_bytes(answer_of(operation, call.media_type))


if __name__ == "__main__":
    main()

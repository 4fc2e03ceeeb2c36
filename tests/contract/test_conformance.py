"""A hundred requests that schemathesis makes of the contract, to the service under gunicorn; release runs make more."""

from __future__ import annotations

import re

from tests.contract.conform import conform


def test_the_service_keeps_to_the_contract_under_every_check(service_url: str) -> None:
    ran = conform(service_url, ["--phases", "examples,fuzzing,stateful", "--max-examples", "6", "--generation-deterministic"])
    assert ran.returncode == 0, ran.stdout[-5000:] + ran.stderr
    found = re.search(r"(\d+) generated, (\d+) passed", ran.stdout)
    assert found is not None, ran.stdout[-5000:]
    generated, passed = map(int, found.groups())
    assert generated == passed >= 100

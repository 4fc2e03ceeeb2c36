"""Rules of a region through the client."""

from __future__ import annotations

import pytest

from wattpair import CircuitFace, Client, NotFound

CIRCUITS = {"faces": [CircuitFace(name="south", module_count=16)], "unit_ac_current_a": 1.5, "home_run_length_m": 15}


def test_rules_that_were_read_can_be_sent_back(client: Client) -> None:
    names = [region.name for region in client.list_regions().regions]
    assert list(client.list_regions().to_frame()["name"]) == names
    for name in names:
        region = client.read_region(name=name)
        named = client.plan_circuits(**CIRCUITS, region=name)  # type: ignore[arg-type]
        sent = client.plan_circuits(**CIRCUITS, region_rules=region.rules)  # type: ignore[arg-type]
        assert sent.circuits == named.circuits
        assert sent.connection.checks == named.connection.checks
        assert region.cautions
        table = region.to_frame()
        assert table[~table["topic"].str.contains("filings")][["clause", "obtained"]].notna().all(axis=None)
        assert {"short_circuit_current", "branch_circuit"} <= set(table["topic"])


@pytest.mark.parametrize("name", ["atlantis", "", "../sizing", "a/b", "é"])
def test_a_region_that_is_not_there_is_not_found(client: Client, name: str) -> None:
    with pytest.raises(NotFound):
        client.read_region(name=name)

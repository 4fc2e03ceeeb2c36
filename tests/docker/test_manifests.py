"""The Kubernetes manifests against the published schemas, and what both they and compose.yaml must not lose."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any

import kubernetes_validate
import pytest
import yaml

from wattpair_service.settings import Settings

ROOT = Path(__file__).resolve().parents[2]
DOCKER = ROOT / "docker"
MANIFESTS = {path.stem: yaml.safe_load(path.read_text(encoding="utf-8")) for path in sorted(DOCKER.glob("kubernetes/*.yaml"))}
COMPOSE = yaml.safe_load((DOCKER / "compose.yaml").read_text(encoding="utf-8"))
POD = MANIFESTS["deployment"]["spec"]["template"]
LABELS = {"app.kubernetes.io/name": "wattpair"}
VERSIONS = ("1.29", "1.37")
"""The oldest cluster meant, and the newest schemas that the package carries."""


@pytest.mark.parametrize("version", VERSIONS)
@pytest.mark.parametrize("name", MANIFESTS)
def test_it_keeps_to_the_published_schema(name: str, version: str) -> None:
    kubernetes_validate.validate(MANIFESTS[name], version, strict=True)


def test_the_check_sees_a_wrong_field() -> None:
    with pytest.raises(kubernetes_validate.ValidationError):
        kubernetes_validate.validate(MANIFESTS["service"] | {"specs": {}}, VERSIONS[-1], strict=True)


def test_every_kind_is_there() -> None:
    kinds = {manifest["kind"] for manifest in MANIFESTS.values()}
    assert kinds == {"Deployment", "Service", "HorizontalPodAutoscaler", "PodDisruptionBudget", "NetworkPolicy"}


def test_the_pod_keeps_to_the_restricted_standard() -> None:
    spec = POD["spec"]
    (container,) = spec["containers"]
    assert spec["securityContext"]["runAsNonRoot"]
    assert spec["securityContext"]["seccompProfile"] == {"type": "RuntimeDefault"}
    assert spec["automountServiceAccountToken"] is False
    assert container["securityContext"] == {
        "allowPrivilegeEscalation": False,
        "readOnlyRootFilesystem": True,
        "privileged": False,
        "capabilities": {"drop": ["ALL"]},
    }
    assert {kind for volume in spec["volumes"] for kind in volume if kind != "name"} <= {"secret", "emptyDir"}


def test_what_selects_the_pods_selects_them() -> None:
    assert POD["metadata"]["labels"] == LABELS
    assert MANIFESTS["deployment"]["spec"]["selector"]["matchLabels"] == LABELS
    assert MANIFESTS["service"]["spec"]["selector"] == LABELS
    assert MANIFESTS["disruption"]["spec"]["selector"]["matchLabels"] == LABELS
    assert MANIFESTS["network"]["spec"]["podSelector"]["matchLabels"] == LABELS
    target = MANIFESTS["autoscaler"]["spec"]["scaleTargetRef"]
    assert (target["kind"], target["name"]) == ("Deployment", MANIFESTS["deployment"]["metadata"]["name"])
    assert "replicas" not in MANIFESTS["deployment"]["spec"]


def test_the_stop_leaves_time_for_what_is_under_way() -> None:
    longest_s = Settings().request_time_max_s + 5  # gunicorn's graceful stop
    pause_s = int(re.findall(r"sleep\((\d+)\)", str(POD["spec"]["containers"][0]["lifecycle"]))[0])
    assert POD["spec"]["terminationGracePeriodSeconds"] > longest_s + pause_s
    assert int(COMPOSE["x-copy"]["stop_grace_period"].removesuffix("s")) > longest_s


@pytest.mark.parametrize("name", COMPOSE["services"])
def test_every_container_of_the_small_server_is_closed(name: str) -> None:
    container: dict[str, Any] = COMPOSE["services"][name]
    assert container["read_only"]
    assert container["cap_drop"] == ["ALL"]
    assert container["security_opt"] == ["no-new-privileges:true"]
    assert container["restart"] == "unless-stopped"
    assert container["mem_limit"]
    assert re.fullmatch(r"[a-z-]+:\d+\.\d+\.\d+[a-z-]*", container["image"]), "pinned"
    assert ("ports" in container) == (name == "proxy"), "only the proxy is reached from outside"


def test_two_copies_share_keys_and_redis() -> None:
    assert COMPOSE["services"]["one"] == COMPOSE["services"]["two"] == COMPOSE["x-copy"]
    assert COMPOSE["networks"]["inside"]["internal"]
    used = {name for container in COMPOSE["services"].values() for name in container.get("secrets", ())}
    assert used == set(COMPOSE["secrets"])


def test_only_known_settings_are_set() -> None:
    known = {f"WATTPAIR_{name.upper()}" for name in Settings.__slots__}
    texts = [path.read_text(encoding="utf-8") for path in DOCKER.rglob("*") if path.is_file() and path.suffix != ".pyc"]
    used = {name for text in texts for name in re.findall(r"WATTPAIR_[A-Z_]+\b", text) if not name.endswith("_")}
    assert used
    assert used <= known


def test_the_image_is_pinned_and_locked() -> None:
    text = (DOCKER / "Dockerfile").read_text(encoding="utf-8")
    bases = re.findall(r"^ARG \w+_BASE=(\S+)", text, re.MULTILINE)
    assert bases
    assert all(re.search(r":\d+\.\d+\.\d+-", base) for base in bases)
    assert text.count("--require-hashes") == 2
    assert re.search(r"^USER \d+:\d+$", text, re.MULTILINE)
    assert "HEALTHCHECK" in text

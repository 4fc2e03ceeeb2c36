"""The Kubernetes manifests against the published schemas, and what both they and compose.yaml must not lose."""

from __future__ import annotations

import re
import subprocess
import sys
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
PINNED = r"[a-z-]+:\d+\.\d+\.\d+[a-z-]*@sha256:[0-9a-f]{64}"
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
    assert spec["securityContext"]["runAsNonRoot"]
    assert spec["securityContext"]["seccompProfile"] == {"type": "RuntimeDefault"}
    assert spec["automountServiceAccountToken"] is False
    for container in spec["containers"]:
        assert container["securityContext"] == {
            "allowPrivilegeEscalation": False,
            "readOnlyRootFilesystem": True,
            "privileged": False,
            "capabilities": {"drop": ["ALL"]},
        }
    assert {kind for volume in spec["volumes"] for kind in volume if kind != "name"} <= {"secret", "emptyDir", "configMap"}


def test_the_proxy_is_the_same_wherever_it_stands() -> None:
    """Its own file, and two small ones that say where it is."""
    kustomization = yaml.safe_load((DOCKER / "kustomization.yaml").read_text(encoding="utf-8"))
    assert {Path(each).stem for each in kustomization["resources"]} == set(MANIFESTS)
    files = {each["name"]: each["files"] for each in kustomization["configMapGenerator"]}
    assert files == {
        "wattpair-proxy": ["proxy/nginx.conf"], "wattpair-proxy-here": ["proxy/pod/upstream.conf", "proxy/pod/listen.conf"]
    }  # fmt: skip
    service, proxy = POD["spec"]["containers"]
    assert proxy["image"] == COMPOSE["services"]["proxy"]["image"]
    assert {"name": "WATTPAIR_HOST", "value": "127.0.0.1"} in service["env"], "only the proxy beside it is reached"
    assert {volume["configMap"]["name"] for volume in POD["spec"]["volumes"] if "configMap" in volume} == set(files)
    assert COMPOSE["services"]["proxy"]["volumes"] == [
        "./proxy/nginx.conf:/etc/nginx/nginx.conf:ro",
        "./proxy/server:/etc/nginx/here:ro",
    ]
    text = (DOCKER / "proxy/nginx.conf").read_text(encoding="utf-8")
    for folder in ("server", "pod"):
        assert {each.name for each in (DOCKER / "proxy" / folder).iterdir()} == set(re.findall(r"include here/(\S+);", text))


def test_the_proxy_knows_what_a_copy_takes() -> None:
    settings, text = Settings(), (DOCKER / "proxy/nginx.conf").read_text(encoding="utf-8")
    for folder in ("server", "pod"):
        upstream = (DOCKER / "proxy" / folder / "upstream.conf").read_text(encoding="utf-8")
        assert set(re.findall(r"max_conns=(\d+)", upstream)) == {str(settings.queue_length + 1)}
    assert f"client_max_body_size {settings.body_limit_bytes >> 20}m;" in text
    read_s, next_s = (
        int(re.findall(rf"{name} (\d+)s;", text)[0]) for name in ("proxy_read_timeout", "proxy_next_upstream_timeout")
    )
    assert next_s < settings.request_time_max_s, "what a copy gives up must not be asked of the other"
    assert 1.5 * settings.request_time_max_s < read_s, "a copy lets a calculation wait, and then take its time"


def test_what_selects_the_pods_selects_them() -> None:
    assert POD["metadata"]["labels"] == LABELS
    specs = {name: manifest["spec"] for name, manifest in MANIFESTS.items()}
    assert specs["service"]["selector"] == specs["network"]["podSelector"]["matchLabels"] == LABELS
    assert specs["deployment"]["selector"]["matchLabels"] == specs["disruption"]["selector"]["matchLabels"] == LABELS
    target = MANIFESTS["autoscaler"]["spec"]["scaleTargetRef"]
    assert (target["kind"], target["name"]) == ("Deployment", MANIFESTS["deployment"]["metadata"]["name"])
    assert "replicas" not in MANIFESTS["deployment"]["spec"]


def test_the_stop_leaves_time_for_what_is_under_way() -> None:
    longest_s = Settings().request_time_max_s + 5  # gunicorn's graceful stop
    copy_s, proxy_s = (
        int(re.findall(r"sleep\D+(\d+)", str(container["lifecycle"]))[0]) for container in POD["spec"]["containers"]
    )
    assert POD["spec"]["terminationGracePeriodSeconds"] > longest_s + copy_s
    assert copy_s > proxy_s, "the proxy stops taking before the copy does"
    for each in (COMPOSE["x-copy"], COMPOSE["services"]["proxy"]):
        assert int(each["stop_grace_period"].removesuffix("s")) > longest_s


@pytest.mark.parametrize("name", COMPOSE["services"])
def test_every_container_of_the_small_server_is_closed(name: str) -> None:
    container: dict[str, Any] = COMPOSE["services"][name]
    assert container["read_only"]
    assert container["cap_drop"] == ["ALL"]
    assert container["security_opt"] == ["no-new-privileges:true"]
    assert container["restart"] == "unless-stopped"
    assert all(container[limit] for limit in ("mem_limit", "cpus", "pids_limit"))
    assert "build" in container or re.fullmatch(PINNED, container["image"])
    assert ("ports" in container) == (name == "proxy"), "only the proxy is reached from outside"


def test_two_copies_share_keys_and_redis() -> None:
    copy = COMPOSE["x-copy"]
    assert COMPOSE["services"]["one"] == COMPOSE["services"]["two"] == copy
    assert copy["environment"]["WATTPAIR_REDIS_URL"].startswith("redis://redis:")
    (folder,) = copy["volumes"]
    mounted = folder.split(":")[1]
    assert Path(copy["environment"]["WATTPAIR_KEYS_FILE"]).parent == Path(mounted), "a folder: a file put in its place is seen"
    proxy = COMPOSE["services"]["proxy"]["depends_on"]
    assert proxy == {name: {"condition": "service_healthy", "restart": True} for name in ("one", "two")}
    assert COMPOSE["networks"]["inside"]["internal"]
    used = {name for container in COMPOSE["services"].values() for name in container.get("secrets", ())}
    assert used == set(COMPOSE["secrets"])


def test_a_copy_has_a_processor_and_memory() -> None:
    copy, (container, _) = COMPOSE["x-copy"], POD["spec"]["containers"]
    assert copy["cpus"] == 1
    assert container["resources"]["limits"]["cpu"] == container["resources"]["requests"]["cpu"] == "1"
    assert (copy["mem_limit"], container["resources"]["limits"]["memory"]) == ("512m", "512Mi")


@pytest.mark.release
def test_the_small_server_keeps_to_the_published_schema(tmp_path: Path) -> None:
    def faults(text: str) -> str:
        file = tmp_path / "compose.yaml"
        file.write_text(text, encoding="utf-8")
        command = [sys.executable, "-m", "check_jsonschema", "--builtin-schema", "vendor.compose-spec", str(file)]
        done = subprocess.run(command, capture_output=True, text=True, timeout=60, check=False)
        return done.stdout if done.returncode else ""

    text = (DOCKER / "compose.yaml").read_text(encoding="utf-8")
    assert faults(text) == ""
    assert "mem_limits" in faults(text.replace("mem_limit: 256m", "mem_limits: 256m"))


def test_only_known_settings_are_set() -> None:
    known = {f"WATTPAIR_{name.upper()}" for name in Settings.__slots__}
    texts = [path.read_text(encoding="utf-8") for path in DOCKER.rglob("*") if path.is_file() and path.suffix != ".pyc"]
    used = {name for text in texts for name in re.findall(r"WATTPAIR_[A-Z_]+\b", text) if not name.endswith("_")}
    assert used
    assert used <= known


def test_the_image_is_pinned_and_locked() -> None:
    text = (DOCKER / "Dockerfile").read_text(encoding="utf-8")
    bases = dict(re.findall(r"^ARG (\w+_BASE)=(\S+)$", text, re.MULTILINE))
    assert [f"${{{name}}}" for name in bases] == re.findall(r"^FROM (\S+)", text, re.MULTILINE)
    assert all(re.fullmatch(PINNED, base) for base in bases.values())
    assert text.count("--require-hashes") == 2
    assert re.search(r"^USER \d+:\d+$", text, re.MULTILINE)
    assert "HEALTHCHECK" in text

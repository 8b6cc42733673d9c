"""Files of deploy, each held against the schema or the tool that a package carries for its kind."""

from __future__ import annotations

import re
import shutil
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest
import yaml

from letterply.api.settings import Settings

DEPLOY = Path(__file__).parents[2] / "deploy"
BIN = Path(sys.executable).parent
MANIFESTS = sorted((DEPLOY / "kubernetes").glob("*.yaml"))
UNITS = sorted((DEPLOY / "systemd").glob("*.service"))


def said(*command: str | Path) -> str:
    done = subprocess.run(command, capture_output=True, text=True)
    assert done.returncode == 0, done.stdout + done.stderr
    return done.stdout + done.stderr


def documents() -> list[dict[str, Any]]:
    return [d for file in MANIFESTS for d in yaml.safe_load_all(file.read_text("utf-8"))]


def test_the_container_file_is_written_as_it_should_be() -> None:
    # Debian keeps one version of a package at a time: a pinned one could not be had a month later.
    said(BIN / "hadolint", "--ignore", "DL3008", DEPLOY / "container/Containerfile")


def test_the_compose_file_is_one() -> None:
    schema = ("--builtin-schema", "vendor.compose-spec")
    said(BIN / "check-jsonschema", *schema, DEPLOY / "container/compose.yaml")


@pytest.mark.parametrize("file", MANIFESTS, ids=lambda file: file.stem)
def test_manifests_are_what_kubernetes_knows(file: Path) -> None:
    assert " passed " in said(BIN / "kubernetes-validate", "--strict", file)


def test_no_pod_may_do_more_than_it_must() -> None:
    pods = [d["spec"]["template"]["spec"] for d in documents() if "template" in d.get("spec", {})]
    assert len(pods) == 3
    for pod in pods:
        assert pod["automountServiceAccountToken"] is False
        assert pod["securityContext"]["runAsNonRoot"] is True
        for container in pod["containers"]:
            allowed = container["securityContext"]
            assert allowed["readOnlyRootFilesystem"] is True
            assert allowed["allowPrivilegeEscalation"] is False
            assert allowed["capabilities"] == {"drop": ["ALL"]}
            assert "memory" in container["resources"]["limits"]


def test_budgets_services_and_policies_mean_pods_that_there_are() -> None:
    pods = [
        d["spec"]["template"]["metadata"]["labels"]
        for d in documents()
        if "template" in d.get("spec", {})
    ]
    for document in documents():
        spec = document.get("spec", {})
        chosen = spec.get("podSelector") or spec.get("selector")
        if not chosen or "template" in spec:
            continue
        labels = chosen.get("matchLabels", chosen)
        assert any(labels.items() <= pod.items() for pod in pods), document["metadata"]


@pytest.mark.parametrize("unit", UNITS, ids=lambda unit: unit.stem)
def test_units_are_units_and_shut_in(unit: Path, tmp_path: Path) -> None:
    if shutil.which("systemd-analyze") is None:
        pytest.skip("systemd-analyze is not there")
    for name in ("python", "letterply"):  # so that what the unit starts is found
        program = tmp_path / "opt/letterply/bin" / name
        program.parent.mkdir(parents=True, exist_ok=True)
        program.write_text("#!/bin/sh\n")
        program.chmod(0o755)
    place = tmp_path / "etc/systemd/system" / unit.name
    place.parent.mkdir(parents=True)
    shutil.copy(unit, place)
    standard = Path("/usr/lib/systemd/system")
    shutil.copytree(standard, tmp_path / "usr/lib/systemd/system", symlinks=True)

    told = said("systemd-analyze", "verify", "--man=no", f"--root={tmp_path}", unit.name)

    assert unit.name not in told
    # The tool's measure from 0 (shut in) to 100; 50 and more it calls medium.
    said("systemd-analyze", "security", "--offline=true", "--threshold=20", unit)


@pytest.mark.parametrize(
    "file",
    [
        f
        for f in sorted(DEPLOY.rglob("*"))
        if f.parent.name in ("container", "systemd", "kubernetes")
    ],
    ids=lambda file: file.name,
)
def test_settings_in_the_files_are_settings(file: Path) -> None:
    known = {f"LETTERPLY_{name.upper()}" for name in Settings.model_fields}
    assert set(re.findall(r"LETTERPLY_[A-Z_]+", file.read_text("utf-8"))) <= known


def test_images_have_the_version_of_the_package() -> None:
    from letterply import __version__

    images = {
        container["image"]
        for d in documents()
        for container in d.get("spec", {}).get("template", {}).get("spec", {}).get("containers", ())
    }
    assert images == {f"letterply:{__version__}"}

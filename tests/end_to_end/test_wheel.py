"""The wheel carries the licence of everything in it, as the core metadata 2.4 ask (PEP 639), and THIRD-PARTY.md tells it all."""

from __future__ import annotations

import re
import subprocess
import sys
from email.parser import Parser
from pathlib import Path
from zipfile import ZipFile

import pytest
from fontTools.ttLib import TTFont

ROOT = Path(__file__).parents[2]
PARTS = [
    (re.findall(r"`([^`]+)`", row[0]), row[2], row[3], row[4].strip("`"))
    for line in (ROOT / "THIRD-PARTY.md").read_text(encoding="utf-8").splitlines()
    if len(row := [cell.strip() for cell in line.strip("|").split(" | ")]) == 5 and row[0].startswith("`")
]


@pytest.fixture(scope="module")
def wheel(tmp_path_factory: pytest.TempPathFactory) -> ZipFile:
    folder = tmp_path_factory.mktemp("wheel")
    command = [sys.executable, "-m", "hatchling", "build", "--target", "wheel", "--directory", str(folder)]
    subprocess.run(command, cwd=ROOT, check=True, capture_output=True, timeout=120)
    return ZipFile(next(folder.glob("*.whl")))


def test_the_wheel_carries_every_licence(wheel: ZipFile) -> None:
    info = next(name for name in wheel.namelist() if name.endswith(".dist-info/METADATA")).removesuffix(
        "METADATA"
    )
    metadata = Parser().parsestr(wheel.read(f"{info}METADATA").decode())
    shipped = [part for part in PARTS if part[0][0].startswith("src/")]
    assert len(shipped) == 3
    assert set(metadata["License-Expression"].split(" AND ")) == {
        "MIT",
        *(licence for _, _, licence, _ in shipped),
    }
    texts = {"LICENSE", "THIRD-PARTY.md", *(text for *_, text in shipped)}
    assert {
        name.removeprefix(f"{info}licenses/") for name in wheel.namelist() if "/licenses/" in name
    } == texts
    assert set(metadata.get_all("License-File", [])) == texts
    for text in texts:
        assert wheel.read(f"{info}licenses/{text}") == (ROOT / text).read_bytes()
    for file in (file for files, *_ in shipped for file in files):
        assert file.removeprefix("src/") in wheel.namelist()


@pytest.mark.parametrize(("files", "version", "licence", "text"), PARTS, ids=lambda each: str(each)[:30])
def test_the_version_told_is_the_files_own(files: list[str], version: str, licence: str, text: str) -> None:
    names = {"OFL-1.1": "SIL OPEN FONT LICENSE Version 1.1", "0BSD": "Zero-Clause BSD", "MIT": "MIT License"}
    said = (ROOT / text).read_text(encoding="utf-8")
    assert names.get(licence, "Mozilla Public License, version 2.0") in said
    for file in files:
        if file.endswith(".otf"):
            own = TTFont(ROOT / file)["name"].getDebugName(5).removeprefix("Version ")
        else:
            script = (ROOT / file).read_text(encoding="utf-8")
            found = re.search(r'! axe v([\d.]+)|revision:"(\d+)"|\bversion="([\d.]+)"', script)
            assert found, file
            own = next(filter(None, found.groups()))
        assert version in {own, f"0.{own}.0"}, file  # a number without dots is three's release


def test_nothing_of_others_goes_untold() -> None:
    """What calls itself licensed or is made small, and every typeface, stands in the list."""
    told = {file for files, *_ in PARTS for file in files}
    found = {
        file.relative_to(ROOT).as_posix()
        for folder in (ROOT / "src", ROOT / "tests")
        for file in folder.rglob("*")
        if file.suffix in {".otf", ".ttf", ".woff", ".woff2", ".wasm"}
        or (
            file.suffix in {".js", ".mjs", ".css"}
            and re.search(r"@license|Copyright|.{2000}", file.read_text(encoding="utf-8"))
        )
    }
    assert found == told

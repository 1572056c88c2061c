"""Nothing a user can see goes undocumented, and no page says what the code does not do."""

import importlib.util
import re
import sys
from pathlib import Path
from types import ModuleType

ROOT = Path(__file__).parents[2]


def _reference() -> ModuleType:
    spec = importlib.util.spec_from_file_location("build_reference", ROOT / "docs" / "build_reference.py")
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    sys.modules["build_reference"] = module
    spec.loader.exec_module(module)
    return module


def test_generated_pages_are_fresh() -> None:
    for name, text in _reference().pages().items():
        stored = (ROOT / "docs" / name).read_text(encoding="utf-8")
        assert stored == text, f"docs/{name} is stale: run docs/build_reference.py"


def test_every_command_is_described() -> None:
    text = (ROOT / "docs" / "commands.md").read_text(encoding="utf-8")
    from scribeline.cli import app

    names = {name for name in app if not name.startswith("-")}
    assert names == set(re.findall(r"^## (\w+)$", text, flags=re.MULTILINE))


def test_links_in_the_documents_lead_somewhere() -> None:
    for page in (*ROOT.glob("*.md"), *ROOT.glob("docs/*.md")):
        for link in re.findall(r"\]\(([^)#]+)(?:#[^)]*)?\)", page.read_text(encoding="utf-8")):
            if "://" not in link:
                assert (page.parent / link).exists(), f"{page.name} links to {link}"


def test_what_make_quick_names_is_there() -> None:
    named = (ROOT / "tests" / "quick.txt").read_text(encoding="utf-8").split()
    assert named
    assert [each for each in named if not (ROOT / each.partition("::")[0]).exists()] == []

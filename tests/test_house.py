"""The house: data goes one way, files stay short, and no name of ours has two meanings."""

import ast
from pathlib import Path

import pytest

PACKAGE = Path(__file__).parents[1] / "analysis" / "wornby"
STAGES = ("records", "histories", "curves", "decisions", "survey", "reports")
MODULES = sorted(PACKAGE.rglob("*.py"))


def stage(module: str) -> int:
    """How far to the right a module stands; what all may use stands before the first."""
    parts = module.split(".")
    return STAGES.index(parts[1]) if len(parts) > 1 and parts[1] in STAGES else -1


def imports(path: Path) -> list[str]:
    """The modules of ours that a file imports."""
    nodes = ast.walk(ast.parse(path.read_text(encoding="utf-8")))
    names = [n.module or "" for n in nodes if isinstance(n, ast.ImportFrom)]
    return [name for name in names if name.startswith("wornby")]


@pytest.mark.parametrize("path", MODULES, ids=lambda p: str(p.relative_to(PACKAGE)))
def test_a_module_imports_only_from_its_left(path: Path) -> None:
    here = ".".join(["wornby", *path.relative_to(PACKAGE).with_suffix("").parts])
    if path.name in ("cli.py", "commands.py", "__init__.py") and path.parent == PACKAGE:
        return
    right = [name for name in imports(path) if stage(name) > stage(here)]
    assert not right, f"{here} imports {right}"


@pytest.mark.parametrize("path", MODULES, ids=lambda p: str(p.relative_to(PACKAGE)))
def test_files_and_functions_stay_short(path: Path) -> None:
    text = path.read_text(encoding="utf-8")
    assert text.count("\n") <= 260
    for node in ast.walk(ast.parse(text)):
        if isinstance(node, ast.FunctionDef):
            doc = ast.get_docstring(node, clean=False) or ""
            length = (node.end_lineno or 0) - node.lineno - doc.count("\n")
            assert length <= 45, f"{node.name}: {length} lines"


def test_no_module_has_the_name_of_a_function_beside_it() -> None:
    for path in MODULES:
        names = {n.name for n in ast.parse(path.read_text()).body if isinstance(n, ast.FunctionDef)}
        beside = {p.stem for p in path.parent.glob("*.py")}
        assert not names & beside, path


def test_public_names_lead_to_what_they_name() -> None:
    import wornby

    for name in wornby.__all__:
        assert callable(getattr(wornby, name)), name

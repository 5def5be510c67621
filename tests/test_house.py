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
    if path.parent == PACKAGE / "commands" or path in (PACKAGE / "cli.py", PACKAGE / "__init__.py"):
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


ESTIMATES_FROM = {"Counts", "VehicleCounts", "Episodes"}
LIVES = {"lives", "episodes", "history"}


def types_taken(function: ast.FunctionDef) -> set[str]:
    """The types that a function's arguments name."""
    taken = function.args.args
    return {n.id for a in taken for n in ast.walk(a) if isinstance(n, ast.Name)}


def estimates(function: ast.FunctionDef) -> bool:
    """Whether a function takes counts, or a frame of lives, episodes or recurring failures."""
    frames = {a.arg for a in function.args.args} & LIVES
    return bool(types_taken(function) & ESTIMATES_FROM or frames)


def shown(functions: dict[str, ast.FunctionDef], tables: dict[str, ast.expr]) -> set[str]:
    """Those with an example, and all that run when the examples do, straight or from a table."""
    named: dict[str, ast.AST] = {**functions, **tables}
    reached: set[str] = set()
    found = {name for name, f in functions.items() if ">>>" in (ast.get_docstring(f) or "")}
    while found:
        reached |= found
        used = (n for name in found for n in ast.walk(named[name]))
        found = {n.id for n in used if isinstance(n, ast.Name)} & named.keys() - reached
    return reached


def test_every_estimator_is_shown_at_work() -> None:
    """An estimator has an example in its docstring, or runs in that of another."""
    bodies = (ast.parse(p.read_text()).body for p in sorted((PACKAGE / "curves").glob("*.py")))
    nodes = [node for body in bodies for node in body]
    functions = {n.name: n for n in nodes if isinstance(n, ast.FunctionDef)}
    assigned = [n for n in nodes if isinstance(n, ast.AnnAssign) and isinstance(n.target, ast.Name)]
    tables = {ast.unparse(n.target): n.value for n in assigned if n.value}
    public = {name for name, f in functions.items() if estimates(f) and not name.startswith("_")}
    assert len(public) > 50
    unseen = public - shown(functions, tables)
    assert not unseen, f"no example shows {', '.join(sorted(unseen))}"


def test_whoever_raises_says_so() -> None:
    """Each error that a public function of the curves raises is named by it or by its module.

    What takes evidence is called by estimators alone, which name its errors.
    """
    for path in sorted((PACKAGE / "curves").glob("*.py")):
        module = ast.parse(path.read_text())
        classes = [node.body for node in module.body if isinstance(node, ast.ClassDef)]
        for node in (n for body in (module.body, *classes) for n in body):
            if not isinstance(node, ast.FunctionDef) or node.name.startswith("_"):
                continue
            if "Evidence" in types_taken(node):
                continue
            calls = (n.exc for n in ast.walk(node) if isinstance(n, ast.Raise))
            raised = {ast.unparse(c.func) for c in calls if isinstance(c, ast.Call)}
            doc = f"{ast.get_docstring(module)} {ast.get_docstring(node)}"
            unsaid = sorted(name for name in raised if name not in doc)
            assert not unsaid, f"{path.stem}.{node.name} raises {', '.join(unsaid)}"


def test_public_names_lead_to_what_they_name() -> None:
    import wornby

    for name in wornby.__all__:
        assert callable(getattr(wornby, name)), name

"""The house rules: linter, types, import contract, and what no tool checks by itself."""

import ast
import re
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[1]
MOST_LINES, MOST_BODY = 400, 60
WORLD = {"threading", "concurrent", "multiprocessing", "subprocess", "os", "io", "pathlib",
         "tempfile", "shutil", "socket", "urllib"}

# written backwards, so that this file keeps the rule as well
WORDS = tuple(word[::-1] for word in (
    "ODOT", "EMXIF", "rorrEdetnemelpmItoN", "eussi", "tpircsnart", "tnemucod dees",
))
PLACES = tuple(word[::-1] for word in ("krow", "pmt", "tpo", "toor"))
HOSTS = tuple(word[::-1] for word in ("ipyp", "detsohnohtyp", "sjmpn", "adnocana"))
FORBIDDEN = re.compile(
    rf"\b(?:{'|'.join(WORDS)})s?\b|(?<![\w.~/-])/(?:{'|'.join(PLACES)})\b"
    rf"|\b(?:{'|'.join(HOSTS)})\.(?:org|com)\b", re.IGNORECASE,
)
TEXTS = {".py", ".md", ".toml", ".json", ".txt", ".html", ".svg", ".yml", ".cfg", ""}


def run(*arguments):
    """A tool of this Python's own environment, over the whole project."""
    done = subprocess.run([sys.executable, *arguments], cwd=ROOT, capture_output=True, text=True,
                          check=False)
    return done.returncode, done.stdout + done.stderr


def files_of(*folders, suffix=".py"):
    return [path for folder in folders for path in sorted((ROOT / folder).rglob(f"*{suffix}"))]


def texts():
    """Every text file of the project, the hidden folder of the test run too."""
    inside = [path for path in ROOT.rglob("*") if path.suffix in TEXTS and path.is_file()]
    for path in sorted(inside):
        parts = path.relative_to(ROOT).parts
        hidden = any(part.startswith(".") and part != ".ci" for part in parts[:-1])
        if not hidden and not {"__pycache__", "build", "dist"} & set(parts):
            yield path


def imports(path):
    """Top-level names of all that a module imports, with the lines."""
    for node in ast.walk(ast.parse(path.read_text("utf-8"))):
        if isinstance(node, ast.Import):
            yield from ((alias.name.split(".")[0], node.lineno) for alias in node.names)
        if isinstance(node, ast.ImportFrom):
            assert node.level == 0, f"{path}:{node.lineno}: a relative import"
            yield str(node.module).split(".")[0], node.lineno


def body_of(function):
    body = function.body[1:] if ast.get_docstring(function) else function.body
    return body[-1].end_lineno - body[0].lineno + 1 if body else 0


def test_ruff_finds_nothing():
    status, said = run("-m", "ruff", "check", ".")
    assert status == 0, said


def test_mypy_strict_finds_nothing():
    status, said = run("-m", "mypy")
    assert status == 0, said


def test_the_import_contract_is_kept():
    lint = "from importlinter.cli import lint_imports_command as lint; lint()"
    status, said = run("-c", lint, "--no-cache", "--no-logo")
    assert status == 0, said
    assert "0 broken" in said


@pytest.mark.parametrize("path", files_of("core"), ids=lambda path: str(path.relative_to(ROOT)))
def test_core_imports_numpy_and_what_of_python_touches_nothing_outside(path):
    allowed = (sys.stdlib_module_names - WORLD) | {"numpy", "core"}
    assert [found for found in imports(path) if found[0] not in allowed] == []


def test_nothing_outside_the_bench_imports_qt():
    bench = ROOT / "app" / "bench"
    found = [(str(path), line) for path in files_of("core", "app", "sample_pages")
             if not path.is_relative_to(bench)
             for name, line in imports(path) if re.match(r"PySide|PyQt|shiboken", name)]
    assert found == []


def test_the_command_opens_the_bench_only_inside_a_function():
    for path in (ROOT / "app" / "command.py", ROOT / "app" / "__main__.py"):
        for node in ast.parse(path.read_text("utf-8")).body:
            module = getattr(node, "module", None) or ""
            names = [module, *(alias.name for alias in getattr(node, "names", []))]
            assert not any(name.startswith("app.bench") for name in names), path


def test_modules_are_short():
    long = {str(path.relative_to(ROOT)): lines for path in files_of("core", "app", "sample_pages")
            if (lines := len(path.read_text("utf-8").splitlines())) > MOST_LINES}
    assert long == {}


def test_functions_are_short():
    long = {
        f"{path.relative_to(ROOT)}:{node.lineno} {node.name}": body_of(node)
        for path in files_of("core", "app", "sample_pages")
        for node in ast.walk(ast.parse(path.read_text("utf-8")))
        if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef) and body_of(node) > MOST_BODY
    }
    assert long == {}


def test_every_fault_says_what_to_do():
    bare = []
    for path in files_of("app", "core", "sample_pages"):
        for call in ast.walk(ast.parse(path.read_text("utf-8"))):
            if isinstance(call, ast.Call) and getattr(call.func, "id", "") == "Fault":
                named = {keyword.arg for keyword in call.keywords}
                if len(call.args) < 3 and "remedy" not in named:
                    bare.append(f"{path}:{call.lineno}")
    assert not bare


def test_no_file_says_what_none_should():
    said = [
        f"{path.relative_to(ROOT)}:{number}: {match.group(0)}"
        for path in texts()
        for number, line in enumerate(path.read_text("utf-8").splitlines(), start=1)
        if (match := FORBIDDEN.search(line))
    ]
    assert said == []


@pytest.mark.parametrize("line", [
    "# " + "ODOT"[::-1], "an " + "eussi"[::-1], "/" + "pmt"[::-1] + "/a",
    "https://" + "gro.ipyp"[::-1] + "/x",
])
def test_the_search_finds_what_it_looks_for(line):
    assert FORBIDDEN.search(line)


@pytest.mark.parametrize("line", ["a tissue", "width / work", "a/work", "obsession"])
def test_the_search_leaves_other_words_alone(line):
    assert not FORBIDDEN.search(line)

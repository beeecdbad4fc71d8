"""What the tests of the house's own rules read: the files under version control."""

import ast
import subprocess
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache
from pathlib import Path

ROOT = Path(__file__).resolve().parents[1]
APPS = ("fleetdoors", "inspections", "analytics")


@cache
def tracked_files() -> tuple[Path, ...]:
    """Every file under version control, and every new one that is not ignored."""
    listed = subprocess.run(
        ["git", "ls-files", "--cached", "--others", "--exclude-standard", "-z"],
        cwd=ROOT,
        capture_output=True,
        text=True,
        check=True,
    )
    paths = (ROOT / name for name in sorted(set(listed.stdout.split("\0"))) if name)
    return tuple(path for path in paths if path.is_file())


@dataclass(frozen=True)
class Module:
    """A Python file of the program, read and parsed."""

    path: Path
    text: str
    tree: ast.Module

    @property
    def name(self) -> str:
        """Its path from the top, as a person would type it."""
        return self.path.relative_to(ROOT).as_posix()

    @property
    def is_kernel(self) -> bool:
        return self.name.startswith("analytics/kernel/")

    def functions(self) -> Iterator[ast.FunctionDef]:
        """Every function and method, inner ones too."""
        return (node for node in ast.walk(self.tree) if isinstance(node, ast.FunctionDef))


@cache
def modules() -> tuple[Module, ...]:
    """The modules of the three apps, without their migrations."""
    paths = [
        path
        for path in tracked_files()
        if path.suffix == ".py"
        and path.relative_to(ROOT).parts[0] in APPS
        and "migrations" not in path.parts
    ]
    texts = [path.read_text(encoding="utf-8") for path in paths]
    return tuple(
        Module(path, text, ast.parse(text)) for path, text in zip(paths, texts, strict=True)
    )


def lines_of(function: ast.FunctionDef) -> int:
    """The length of a function without its decorators and docstring."""
    length = (function.end_lineno or function.lineno) - function.lineno + 1
    first = function.body[0]
    if ast.get_docstring(function) is not None:
        length -= (first.end_lineno or first.lineno) - first.lineno + 1
    return length

"""The package's source, parsed once for all tests that read it."""

import ast
from functools import cache
from pathlib import Path


@cache
def nodes_of(path: Path) -> tuple[ast.AST, ...]:
    """All nodes of a file."""
    return tuple(ast.walk(ast.parse(path.read_text(encoding="utf-8"))))

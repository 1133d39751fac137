"""Small wrong versions of a source file, by the operators of cosmic-ray.

Replacing ``+`` by ``<<`` on floats can only crash, so arithmetic is not turned into bit
operations, nor a mask's ``&`` into a shift: such mutants would count as killed without a test
having looked at a value. A changed annotation changes nothing that runs.
"""

import ast
import difflib
import re
from collections.abc import Iterator
from dataclasses import dataclass

from cosmic_ray import plugins
from cosmic_ray.ast import ast_nodes, get_ast
from cosmic_ray.mutating import mutate_code

ARITHMETIC = {"Add", "Sub", "Mul", "Div", "FloorDiv", "Mod", "Pow"}
MASKS = {"BitOr", "BitAnd", "BitXor"}
NEED_ARGUMENTS = {"core/VariableReplacer", "core/VariableInserter"}


@dataclass(frozen=True)
class Mutant:
    """One wrong version: the line as it stands, as it becomes, and the whole source."""

    number: int
    line_number: int
    line: str
    change: str
    source: str


def operators() -> list[str]:
    """Names of the operators that give a mutant worth running."""
    return [name for name in plugins.operator_names() if _worth_running(name)]


def _worth_running(name: str) -> bool:
    if name in NEED_ARGUMENTS:
        return False
    binary = re.fullmatch(r"core/ReplaceBinaryOperator_(\w+)_(\w+)", name)
    if binary is None:
        return True
    return any({binary[1], binary[2]} <= alike for alike in (ARITHMETIC, MASKS))


def mutants_of(source: str) -> Iterator[Mutant]:
    """Yield every mutant of a file, one change each, doubles left out."""
    seen, meaning = {source}, _without_annotations(source)
    for name in operators():
        for occurrence in range(_places(source, name)):
            changed = mutate_code(source, plugins.get_operator(name)(), occurrence)
            if changed is None or changed in seen:
                continue
            seen.add(changed)
            if _without_annotations(changed) not in ("", meaning):
                yield _described(source, changed, len(seen) - 1)


def _without_annotations(source: str) -> str:
    """What a source means; nothing where it is none, such as a lone ``*`` made ``+``."""
    try:
        tree = ast.parse(source)
    except SyntaxError:
        return ""
    for node in ast.walk(tree):
        if isinstance(node, ast.FunctionDef):
            node.returns = None
        elif isinstance(node, ast.arg):
            node.annotation = None
        elif isinstance(node, ast.AnnAssign):
            node.annotation = ast.Constant(None)
    return ast.dump(tree)


def _places(source: str, name: str) -> int:
    operator = plugins.get_operator(name)()
    return sum(len(list(operator.mutation_positions(node))) for node in ast_nodes(get_ast(source)))


def _described(source: str, changed: str, number: int) -> Mutant:
    old, new = source.splitlines(), changed.splitlines()
    blocks = difflib.SequenceMatcher(None, old, new, autojunk=False).get_opcodes()
    _, i1, i2, j1, j2 = next(block for block in blocks if block[0] != "equal")
    line, change = (" ".join(text.strip() for text in part) for part in (old[i1:i2], new[j1:j2]))
    return Mutant(number, i1 + 1, line, change, changed)

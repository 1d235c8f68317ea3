"""How much code there is and how tangled: ``python -m tests.tools.code_lines [FOLDER ...]``.

A code line holds a token that is neither comment nor docstring. Branches are the places where a
function may go two ways: ``if``, loops, ``except``, ``case``, a conditional expression, each ``if``
of a comprehension, each further operand of ``and`` and ``or``. A function's lines are the code
lines of its body without the functions inside it, which are counted on their own; so are its
branches. Calls of our own are those of a name that ``thrustlapse`` defines, whether a function, a
class or a method.
"""

from __future__ import annotations

import ast
import io
import sys
import tokenize
from collections.abc import Iterator
from pathlib import Path

ROOT = Path(__file__).parents[2]
MOST_LINES, MOST_BRANCHES, MOST_POSITIONAL = 40, 12, 4

Function = ast.FunctionDef | ast.AsyncFunctionDef
_SILENT = {tokenize.COMMENT, tokenize.NL, tokenize.NEWLINE, tokenize.INDENT, tokenize.DEDENT,
           tokenize.ENCODING, tokenize.ENDMARKER}


def code_lines(text: str) -> set[int]:
    """Numbers of the lines that hold code."""
    told = {line for node in ast.walk(ast.parse(text)) for one in _docstrings(node)
            for line in range(one.lineno, (one.end_lineno or one.lineno) + 1)}
    tokens = tokenize.generate_tokens(io.StringIO(text).readline)
    return {line for token in tokens if token.type not in _SILENT
            for line in range(token.start[0], token.end[0] + 1)} - told


def _docstrings(node: ast.AST) -> Iterator[ast.Expr]:
    """Strings that stand as statements: of a module, class or function, and behind a constant."""
    for _, block in ast.iter_fields(node):
        for one in block if isinstance(block, list) else ():
            if (isinstance(one, ast.Expr) and isinstance(one.value, ast.Constant)
                    and isinstance(one.value.value, str)):
                yield one


def functions(tree: ast.AST) -> Iterator[Function]:
    """Every function of a file, those inside others too."""
    return (node for node in ast.walk(tree) if isinstance(node, Function))


def own_nodes(function: Function) -> Iterator[ast.AST]:
    """Nodes of a function's body, without the functions inside it."""
    waiting: list[ast.AST] = list(function.body)
    while waiting:
        node = waiting.pop()
        if not isinstance(node, Function):
            yield node
            waiting += ast.iter_child_nodes(node)


def body_lines(function: Function, counted: set[int]) -> int:
    """Code lines of a function's body."""
    own = range(function.body[0].lineno, (function.end_lineno or 0) + 1)
    inner = {line for one in functions(function) if one is not function
             for line in range(one.lineno, (one.end_lineno or 0) + 1)}
    return len(counted & set(own) - inner)


def branches(function: Function) -> int:
    """Places of a function where it may go two ways."""
    count = 0
    for node in own_nodes(function):
        match node:
            case (ast.If() | ast.IfExp() | ast.For() | ast.AsyncFor() | ast.While()
                  | ast.ExceptHandler() | ast.match_case()):
                count += 1
            case ast.BoolOp():
                count += len(node.values) - 1
            case ast.comprehension():
                count += len(node.ifs)
    return count


def defined(trees: list[ast.Module]) -> set[str]:
    """Names of functions, methods and classes that these files define; not of those that take any
    number of arguments."""
    every = [node for tree in trees for node in ast.walk(tree)
             if isinstance(node, Function | ast.ClassDef)]
    open_ended = {node.name for node in every if isinstance(node, Function) and node.args.vararg}
    return {node.name for node in every} - open_ended


def wide_calls(tree: ast.AST, own: set[str]) -> Iterator[tuple[int, str, int]]:
    """(line, name, positional arguments) of calls of our own with more than four of them."""
    for node in ast.walk(tree):
        if isinstance(node, ast.Call) and len(node.args) > MOST_POSITIONAL:
            called = node.func
            name = (called.id if isinstance(called, ast.Name)
                    else called.attr if isinstance(called, ast.Attribute) else "")
            if name in own:
                yield node.lineno, name, len(node.args)


def main(folders: list[str]) -> None:
    package = {path: path.read_text(encoding="utf-8")
               for path in sorted((ROOT / "thrustlapse").rglob("*.py"))}
    own = defined([ast.parse(text) for text in package.values()])
    for folder in folders:
        files = {path: path.read_text(encoding="utf-8")
                 for path in sorted((ROOT / folder).rglob("*.py"))}
        _tell(folder, files, own)


def _tell(folder: str, files: dict[Path, str], own: set[str]) -> None:
    total, sizes, forks, wide = 0, [], [], []
    for path, text in files.items():
        tree, counted = ast.parse(text), code_lines(text)
        total += len(counted)
        place = path.relative_to(ROOT).as_posix()
        for one in functions(tree):
            sizes.append((body_lines(one, counted), f"{place}:{one.lineno} {one.name}"))
            forks.append((branches(one), f"{place}:{one.lineno} {one.name}"))
        wide += [(count, f"{place}:{line} {name}") for line, name, count in wide_calls(tree, own)]
    print(f"{folder}: {total} code lines in {len(files)} files, {len(sizes)} functions")
    for what, found, most in (("code lines in a body", sizes, MOST_LINES),
                              ("branches", forks, MOST_BRANCHES),
                              ("positional arguments in a call of our own", wide,
                               MOST_POSITIONAL)):
        over = sorted((one for one in found if one[0] > most), reverse=True)
        print(f"  more than {most} {what}: {len(over)}"
              f" (most {max((count for count, _ in found), default=0)})")
        for count, place in over:
            print(f"    {count:4d}  {place}")


if __name__ == "__main__":
    main(sys.argv[1:] or ["thrustlapse"])

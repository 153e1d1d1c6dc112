"""Numbers that a photograph is read by say what they are: each has a word beside it or below it.

So that it has a place for that word, none stands bare inside a function.
"""

import ast
import io
import tokenize
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
FILES = sorted([*ROOT.glob("sequencer/photo/**/*.py"), *ROOT.glob("sequencer/prints/*.py")])
PLAIN = {0, 1, 2, 3, 4, 0.5}
"""Numbers that need no name: counts to 4 (planes of colour, corners of four sides), one half."""
UNITS = {100, 255, 256, 360, 1000}
"""Of a percentage, of 8 bits, of a circle, of a count that outweighs all others."""
NOTHING = 1e-6
"""So small that it only keeps from dividing by zero."""
BY_FORMAT = ("sequencer/photo/files/bare.py",)
"""Bytes of published file formats, as its docstring says."""
TO_TOOLS = ("# fmt:", "# noqa", "# type:")


def is_number(node: ast.AST) -> bool:
    return isinstance(node, ast.Constant) and type(node.value) in (int, float, complex)


def comments(source: str) -> dict[int, bool]:
    """Lines with a comment to a reader, and whether it has its line to itself."""
    lines = tokenize.generate_tokens(io.StringIO(source).readline)
    return {one.start[0]: one.line.lstrip().startswith("#") for one in lines
            if one.type == tokenize.COMMENT and not one.string.startswith(TO_TOOLS)}


def target(node: ast.stmt | None) -> str | None:
    if isinstance(node, ast.Assign):
        return ast.unparse(node.targets[0])
    return ast.unparse(node.target) if isinstance(node, ast.AnnAssign) else None


def wordless(source: str) -> list[str]:
    """Constants of a module whose value holds a number, and that nothing is said of.

    A word is a string right below, or a comment on the constant's own lines or right above. Several
    share one if they are assigned together: of constants one below the other each has its own, or
    a new one would pass by the word of the next. One made in two steps has its word by the second.
    """
    body, said, found = ast.parse(source).body, comments(source), []
    for node, below in zip(body, [*body[1:], None], strict=True):
        value = getattr(node, "value", None) if target(node) else None
        if value is None or target(below) == target(node):
            continue
        if not any(is_number(part) for part in ast.walk(value)):
            continue
        end = node.end_lineno or node.lineno
        beside = said.get(node.lineno - 1) or any(k in said for k in range(node.lineno, end + 1))
        string = isinstance(below, ast.Expr) and isinstance(below.value, ast.Constant)
        if not beside and not (string and below.lineno == end + 1):
            found.append(str(target(node)))
    return found


@pytest.mark.parametrize("path", FILES, ids=lambda path: str(path.relative_to(ROOT)))
def test_each_number_says_what_it_is(path: Path):
    names = wordless(path.read_text("utf-8"))
    assert not names, f"{path.relative_to(ROOT)}: nothing is said of {', '.join(names)}"


@pytest.mark.parametrize("source", [
    "_A = 3\n",
    "_A: float = -3.0\n",
    "_A = (1, 2)  # fmt: skip\n",
    "_A = np.array([[1.0, 0.5]])\n",
    "_A = 2 * _B\n",
    "_A = 3\n_B = 4\n'''Of the next one only.'''\n",
    "_A = 3\n\n'''Not below it.'''\n",
    "_B = 3  # of this one\n_A = 4\n",
    "_A = 3\n_A = _A + 1\n",
])
def test_a_number_without_a_word_is_seen(source: str):
    assert wordless(source) == ["_A"]


@pytest.mark.parametrize("source", [
    "_A = 3  # pixels\n",
    "# Pixels.\n_A = 3\n",
    "_A, _B = 3, 4\n'''Of both.'''\n",
    "_A = [\n    3,  # pixels\n]\n",
    "_A = [\n    3,\n]\n'''Pixels.'''\n",
    "_A = 3\n_A = _A + 1\n'''Pixels.'''\n",
    "Floats = NDArray[np.float32]\n",
    "_A = np.sqrt(_B)\n",
    "_A = True\n",
    "_A = 'version 3'\n",
])
def test_what_has_a_word_or_no_number_passes(source: str):
    assert wordless(source) == []


def is_plain(value: complex) -> bool:
    """Whether a number needs no name; 3.0 and 4.0 are no counts, and i has one."""
    if isinstance(value, complex) or abs(value) <= NOTHING:
        return True
    return value in PLAIN | UNITS and not (isinstance(value, float) and value in (3, 4))


def bare(source: str) -> list[str]:
    """Numbers inside functions that nobody named, with their lines; indices are none."""
    found: set[tuple[int, str]] = set()
    for function in ast.walk(ast.parse(source)):
        if not isinstance(function, ast.FunctionDef | ast.AsyncFunctionDef | ast.Lambda):
            continue
        indices = {id(part) for node in ast.walk(function) if isinstance(node, ast.Subscript)
                   for part in ast.walk(node.slice)}  # fmt: skip
        for node in ast.walk(function):
            if is_number(node) and id(node) not in indices and not is_plain(node.value):
                found.add((node.lineno, f"{node.lineno}: {node.value}"))
    return [words for _, words in sorted(found)]


@pytest.mark.parametrize("name", [
    name for path in FILES if (name := path.relative_to(ROOT).as_posix()) not in BY_FORMAT
])
def test_no_number_stands_bare_in_a_function(name: str):
    found = bare((ROOT / name).read_text("utf-8"))
    assert not found, f"{name}: give these a name, a unit and an origin: {', '.join(found)}"


@pytest.mark.parametrize("line", [
    "return x > 0.75", "return x > 3.0", "return x[5] * 6", "return f(x, 12)", "return -7 < x",
    "return 1e-5", "return x[1 if x > 9.5 else f(8)] + 17", "return lambda y: y + 0.3",
])
def test_a_bare_number_is_seen(line: str):
    assert bare(f"def f(x):\n    {line}\n")


@pytest.mark.parametrize("source", [
    "def f(x, most=12):\n    return x\n",
    "class A:\n    def f(self, x: int = 7) -> int:\n        return x\n",
    "async def f(x):\n    return 9\n",
    "f = lambda x: x + 0.2\n",
])
def test_a_bare_default_is_seen_too(source: str):
    assert bare(source)


@pytest.mark.parametrize("line", [
    "return x[7]", "return x[5:-5, ::6]", "return x > 0.5", "return x.reshape(-1, 3)",
    "return max(x, 1e-9)", "return x / 255", "return True", "return x > _LEAST",
])
def test_indices_counts_and_units_pass(line: str):
    assert not bare(f"def f(x):\n    {line}\n")


def test_the_rooms_are_there():
    assert len(FILES) > 60

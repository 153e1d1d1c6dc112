"""Write docs/messages.md: every message in the code, by where it comes from.

python docs/messages.py

Texts are read out of the source, so that the page cannot fall behind; a test compares the two. What
the program fills in stands as …
"""

import ast
import re
from collections.abc import Iterator
from pathlib import Path

HERE = Path(__file__).parent
ROOT = HERE.parent

HEAD = """# What a message means

A message says what was found, in which file, and what to do. Exit code 1 means understood, but it
cannot be done; 2 means not understood. In both cases the piece is as it was before. This page lists
the messages by where they come from; … stands for what the program fills in. It is made from the
source by `docs/messages.py`.
"""

REFUSES, TELLS = "It refuses", "It tells"
AREAS = {
    "What was typed": (
        "Type it again as the message says. `passalong COMMAND --help` shows an example. Lengths "
        "are typed as 1/4, 2 1/2, 2.5, 7 mm.",
        ["cli/passalong/*.py", "sequencer/inches.py", "sequencer/files.py"],
    ),
    "Photographs": (
        "Most are cured at the table: a white sheet and a bank card in the picture, scraps apart, "
        "daylight, the camera straight above. See [Photographing well](photographing.md). A remark "
        "about one print does not stop the others.",
        ["sequencer/photo/**/*.py", "sequencer/prints/*.py", "sequencer/reading/*.py",
         "sequencer/intake/*.py", "sequencer/corrections.py", "sequencer/set_right.py",
         "sequencer/marks.py"],
    ),
    "The piece folder": (
        "Nothing was changed. Where the folder is in use, wait for the other program; where "
        "piece.json is damaged, `passalong undo` or a copy of the folder helps. See "
        "[how a piece is kept](piece-folder.md).",
        ["sequencer/piece.py", "sequencer/keeping/**/*.py"],
    ),
    "The sequence": (
        "Leave out or change one of the wishes that the message names. See "
        "[Choosing and ordering](ordering.md).",
        ["sequencer/order/**/*.py", "sequencer/ordering/*.py", "sequencer/contrasts/*.py",
         "sequencer/colour/*.py"],
    ),
    "The plan": (
        "Take the nearest size or width that the message names, or see `passalong plan FOLDER "
        "--ways-out`. See [Planning and cutting](planning.md).",
        ["sequencer/plan/**/*.py", "sequencer/planning.py"],
    ),
    "Pictures and sheets": (
        "Try the other paper, shorter names, or fewer pixels. See "
        "[Sewing from the sheets](sewing.md).",
        ["sequencer/sheets/**/*.py", "sequencer/rendering/*.py", "sequencer/lettering/*.py",
         "sequencer/written.py"],
    ),
    "Calls from Python": (
        "An argument is not what the call takes; `help` of the call tells what it takes.",
        ["sequencer/doors.py"],
    ),
}  # fmt: skip
# Sewing instructions, captions and names of things are the sheets' own text, not messages.
ONLY_REFUSALS = ("sequencer/sheets/", "sequencer/rendering/", "sequencer/colour/",
                 "sequencer/plan/words/", "sequencer/plan/finish", "cli/passalong/options.py",
                 "cli/passalong/groups.py")
TELLING = ("sequencer/plan/words/warn.py", "sequencer/plan/words/cloth.py")
HELP = {"help", "description", "epilog", "metavar", "usage"}


def page() -> str:
    """The whole page."""
    parts = [HEAD]
    for title, (advice, globs) in AREAS.items():
        refuses: dict[str, None] = {}
        tells: dict[str, None] = {}
        for path in sorted({path for glob in globs for path in ROOT.glob(glob)}):
            name = path.relative_to(ROOT).as_posix()
            told = name.startswith(TELLING) or not name.startswith(ONLY_REFUSALS)
            for text, refused in messages(ast.parse(path.read_text("utf-8"))):
                if refused:
                    refuses[text] = None
                elif told:
                    tells[text] = None
        parts.append(f"## {title}\n\n{advice}\n")
        for head, texts in ((REFUSES, refuses), (TELLS, tells)):
            lines = [f"- {text}" for text in texts if head == REFUSES or text not in refuses]
            if lines:
                parts.append(f"### {head}\n\n" + "\n".join(lines) + "\n")
    return "\n".join(parts)


def messages(tree: ast.Module) -> Iterator[tuple[str, bool]]:
    """Each text like a sentence, and whether it is (or is made for) a refusal."""
    helpers = {call.func.id for node in ast.walk(tree) if isinstance(node, ast.Raise)
               for call in ast.walk(node)
               if isinstance(call, ast.Call) and isinstance(call.func, ast.Name)}  # fmt: skip
    yield from _found(tree, False, helpers)


def _found(node: ast.AST, refused: bool, helpers: set[str]) -> Iterator[tuple[str, bool]]:
    if isinstance(node, ast.Constant | ast.JoinedStr | ast.BinOp):
        text = _text(node)
        if text and _like_a_sentence(text):
            yield " ".join(text.split()), refused
            return
    refused = refused or isinstance(node, ast.Raise)
    if isinstance(node, ast.FunctionDef):
        refused = refused or node.name in helpers
    for child in ast.iter_child_nodes(node):
        docstring = isinstance(child, ast.Expr) and isinstance(child.value, ast.Constant)
        if docstring or (isinstance(child, ast.keyword) and child.arg in HELP):
            continue
        if isinstance(child, ast.FunctionDef) and child.name == "__getattr__":
            continue  # for programmers
        yield from _found(child, refused, helpers)


def _text(node: ast.AST) -> str:
    if isinstance(node, ast.Constant):
        return node.value if isinstance(node.value, str) else ""
    if isinstance(node, ast.JoinedStr):
        return "".join(_text(part) or "…" for part in node.values)
    if isinstance(node, ast.BinOp) and isinstance(node.op, ast.Add):
        left, right = _text(node.left), _text(node.right)
        return left + right if left and right else ""
    return ""


def _like_a_sentence(text: str) -> bool:
    words = re.findall(r"[A-Za-z’']{2,}", text)
    return len(words) >= 4 and " " in text.strip() and "\n" not in text.strip()


if __name__ == "__main__":
    (HERE / "messages.md").write_text(page(), "utf-8")

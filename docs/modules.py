"""The pages on Python, drawn from the source: one for each module, with its public functions, classes and docstrings.

The source is read, not run: nothing heavy is loaded, and a page cannot differ from what is written.
"""

import ast
import re
from collections.abc import Iterator
from pathlib import Path

Definition = ast.FunctionDef | ast.ClassDef
SPANS = re.compile(r"(`[^`]*`)")
SECTION = re.compile(r"^(Args|Raises|Returns|Yields):$")
ENTRY = re.compile(r"^(\*{0,2}\w[\w, *]*): (.*)$")
WIDTH = 100  # a longer signature is broken, one parameter a line


def write_modules(root: Path, packages: tuple[str, ...], folder: Path) -> list[str]:
    """Write one page for each public module of the packages. Gives the names of the files, in order."""
    written: list[str] = []
    for package in packages:
        for path in sorted(root.joinpath(*package.split(".")).glob("*.py")):
            if path.stem.startswith("_") and path.stem != "__init__":
                continue
            name = package if path.stem == "__init__" else f"{package}.{path.stem}"
            folder.mkdir(parents=True, exist_ok=True)
            (folder / f"{name}.md").write_text(draw_module(name, path.read_text("utf-8")), "utf-8")
            written.append(f"{name}.md")
    return written


def draw_module(name: str, source: str) -> str:
    """The page of one module."""
    tree = ast.parse(source)
    parts = [f"# {name}", draw_docstring(tree)]
    for node in tree.body:
        if isinstance(node, Definition) and not node.name.startswith("_"):
            parts += draw_definition(node, "##", "")
    return "\n\n".join(part for part in parts if part) + "\n"


def draw_definition(node: Definition, heading: str, owner: str) -> Iterator[str]:
    """A function, or a class with its fields and its public methods."""
    yield f"{heading} {owner}{node.name}".replace("_", "\\_")
    code = list_class(node) if isinstance(node, ast.ClassDef) else sign(node)
    yield f"```python\n{code}\n```"
    yield draw_docstring(node)
    if isinstance(node, ast.ClassDef):
        for item in node.body:
            if isinstance(item, ast.FunctionDef) and not item.name.startswith("_"):
                yield from draw_definition(item, "###", f"{node.name}.")


def sign(node: ast.FunctionDef) -> str:
    """The signature of a function."""
    start, end = f"def {node.name}(", f"){f' -> {ast.unparse(node.returns)}' if node.returns else ''}"
    whole = ast.unparse(node.args)
    if len(start) + len(whole) + len(end) <= WIDTH:
        return f"{start}{whole}{end}"
    return "\n".join([start, *(f"    {one}," for one in split_arguments(whole)), end])


def split_arguments(text: str) -> list[str]:
    """The parameters of a signature: parted at commas that stand in no bracket."""
    parts, depth = [""], 0
    for sign_ in text:
        depth += (sign_ in "([{") - (sign_ in ")]}")
        if sign_ == "," and depth == 0:
            parts.append("")
        else:
            parts[-1] += sign_
    return [part.strip() for part in parts]


def list_class(node: ast.ClassDef) -> str:
    """A class with its fields, or the words of an enumeration."""
    bases = ", ".join(ast.unparse(base) for base in node.bases)
    lines = [f"class {node.name}{f'({bases})' if bases else ''}:"]
    for item in node.body:
        named = item.target if isinstance(item, ast.AnnAssign) else None
        if isinstance(item, ast.Assign) and isinstance(item.targets[0], ast.Name):
            named = item.targets[0]
        if isinstance(named, ast.Name) and not named.id.startswith("_"):
            lines.append(f"    {ast.unparse(item)}")
    return "\n".join(lines) if len(lines) > 1 else lines[0].rstrip(":")


def draw_docstring(node: ast.Module | Definition) -> str:
    """A docstring as Markdown: plain text with `code`; its sections as lists."""
    lines: list[str] = []
    inside = False
    for line in (ast.get_docstring(node) or "").splitlines():
        section = SECTION.match(line)
        if section:
            inside = True
            lines += ["", f"**{section[1].replace('Args', 'Arguments')}**", ""]
            continue
        inside = inside and (not line.strip() or line.startswith(" "))
        entry = ENTRY.match(line.strip()) if inside and not line.startswith(" " * 8) else None
        if entry:
            lines.append(f"- `{entry[1]}`: {plain(entry[2])}")
        else:
            lines.append(f"  {plain(line.strip())}" if inside and line.strip() else plain(line))
    return "\n".join(lines).strip()


def plain(line: str) -> str:
    """A line whose signs mean themselves, but for `code`; indented lines are code as they are."""
    if line.startswith("    "):
        return line
    parts = SPANS.split(line)
    parts[::2] = [re.sub(r"([\\*_|<>\[\]#$])", r"\\\1", part) for part in parts[::2]]
    return "".join(parts)

"""Build the documentation and check every link: python docs/build.py [FOLDER]

The site is written to FOLDER (build/documentation). Any warning of the generator, dead link, picture without words or
fetch from outside is told, and the exit status is then 1.
"""

import importlib.util
import io
import re
import shutil
import sys
import tempfile
from collections.abc import Sequence
from pathlib import Path
from types import ModuleType

DOCS = Path(__file__).parent
ROOT = DOCS.parent
SITE = DOCS / "site"
FONTS = ROOT / "evidence" / "publishing" / "fonts"
PACKAGES = ("evidence.statistics", "evidence.appraisal", "references")
LOCAL_LINK = re.compile(r"\]\(([^)#:\s]+\.md)(?:#[^)]*)?\)")


def build(source: Path, target: Path, packages: tuple[str, ...] = PACKAGES) -> list[str]:
    """Build the pages of `source` into `target`. Gives the faults, each as one line; none: it is sound."""
    with tempfile.TemporaryDirectory() as folder:
        written = Path(folder) / "source"
        shutil.copytree(source, written, ignore=shutil.ignore_patterns("*.py", "__pycache__", "site"))
        listed = load("modules").write_modules(ROOT, packages, written / "reference" / "python")
        write_contents(written / "README.md", listed)
        shutil.rmtree(target, ignore_errors=True)
        faults = run_generator(written, target, Path(folder) / "kept")
    if target.is_dir():
        for font in (*FONTS.glob("*.ttf"), *FONTS.glob("Source*LICENSE.txt")):
            if not font.name.startswith("DejaVu"):
                shutil.copy(font, target / "_static")
        shutil.copy(target / "README.html", target / "index.html")
        faults += load("links").check_site(target)
    return faults


def run_generator(source: Path, target: Path, kept: Path) -> list[str]:
    """Run the generator; what it warns of."""
    from sphinx.application import Sphinx
    from sphinx.util.console import nocolor
    from sphinx.util.docutils import docutils_namespace, patch_docutils

    nocolor()
    warnings = io.StringIO()
    with patch_docutils(str(SITE)), docutils_namespace():
        app = Sphinx(str(source), str(SITE), str(target), str(kept), "html", status=None, warning=warnings)
        app.build(force_all=True)
    return [line.replace(f"{source}/", "docs/") for line in warnings.getvalue().splitlines() if line.strip()]


def write_contents(page: Path, listed: Sequence[str]) -> None:
    """Give the first page its table of contents: the pages it links, in its order, under its headings."""
    text = page.read_text("utf-8")
    parts, seen = [], {page.name}
    for section in re.split(r"^## ", text, flags=re.MULTILINE):
        heading, _, body = section.partition("\n")
        pages = [name for name in dict.fromkeys(LOCAL_LINK.findall(body)) if name not in seen]
        seen.update(pages)
        if pages:
            caption = "Start" if heading.startswith("# ") else heading.strip()
            parts.append(draw_contents(caption, pages))
    if listed:
        python = page.parent / "reference" / "python.md"
        opened = draw_contents("", [f"python/{name}" for name in listed])
        python.write_text(f"{python.read_text('utf-8')}\n{opened}", "utf-8")
    page.write_text(f"{text}\n{''.join(parts)}", "utf-8")


def draw_contents(caption: str, pages: Sequence[str]) -> str:
    """A table of contents that shows beside the text."""
    named = f":caption: {caption}\n:hidden:\n" if caption else ":maxdepth: 1\n"
    return "\n".join(["```{toctree}", named, *pages, "```", ""])


def load(name: str) -> ModuleType:
    """A script beside this one, also where this one was loaded by its path."""
    spec = importlib.util.spec_from_file_location(f"documentation_{name}", DOCS / f"{name}.py")
    assert spec and spec.loader
    module = importlib.util.module_from_spec(spec)
    sys.modules[spec.name] = module
    spec.loader.exec_module(module)
    return module


def main(arguments: Sequence[str]) -> int:
    """Build, tell what is wrong, and say where the site is."""
    target = Path(arguments[0]) if arguments else ROOT / "build" / "documentation"
    faults = build(DOCS, target)
    markdown = [*ROOT.glob("*.md"), *(p for p in sorted(DOCS.rglob("*.md")) if SITE not in p.parents)]
    faults += load("links").check_markdown(markdown, ROOT)
    for fault in faults:
        print(fault, file=sys.stderr)
    print(
        f"{len(faults)} faults" if faults else f"Built without a warning, no dead link: {target}/index.html"
    )
    return 1 if faults else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))

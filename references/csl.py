"""Citations and bibliographies by CSL styles, applied by pandoc's citation processor.

pandoc is not part of a plain install: it is looked for when a style other than "plain" is asked for. It is
slow on long lists (some 600 records take 5 seconds, 2,400 take minutes in APA): pass cited records only.
"""

import json
import shutil
import subprocess
import tempfile
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from html.parser import HTMLParser
from importlib.resources import files
from pathlib import Path

from references.errors import StyleProblem
from references.record import Record

LONG_LIST = 600
_TAGS = {"em": "i", "i": "i", "strong": "b", "b": "b", "sup": "sup", "sub": "sub"}


@dataclass(frozen=True, slots=True)
class Cited:
    """One record in a citation, with a place in it ("p. 3") and words before it ("see")."""

    record: Record
    locator: str | None = None
    prefix: str | None = None


@dataclass(frozen=True, slots=True)
class Formatted:
    """A document's citations in the order given, and its bibliography, as text with CSL tags."""

    citations: tuple[str, ...]
    bibliography: tuple[str, ...]


def list_styles() -> tuple[str, ...]:
    """The names of the packaged CSL styles."""
    names = (item.name for item in files("references.styles").iterdir())
    return tuple(sorted(name.removesuffix(".csl") for name in names if name.endswith(".csl")))


def format_entries(records: Sequence[Record], style: str | Path) -> tuple[str, ...]:
    """The bibliography entry by entry, as text with CSL tags. Raises StyleProblem."""
    return format_document([[Cited(record) for record in records]], style).bibliography if records else ()


def format_document(clusters: Sequence[Sequence[Cited]], style: str | Path) -> Formatted:
    """Citations (each of one or several records) and the bibliography of them. Raises StyleProblem."""
    records = list({cited.record.key: cited.record for cluster in clusters for cited in cluster}.values())
    ids = {record.key: f"r{number}" for number, record in enumerate(records)}
    items = [_to_item(record, ids[record.key]) for record in records]
    paragraphs = [_write_cluster(cluster, ids) for cluster in clusters]
    return _format(read_style(style), json.dumps(items), "\n\n".join(paragraphs))


def _to_item(record: Record, identifier: str) -> dict[str, object]:
    """CSL-JSON for pandoc: an identifier that holds no markup or path, and only fields it knows."""
    item = record.to_csl() | {"id": identifier}
    item.pop("custom", None)
    item.pop("citation-key", None)
    for value in item.values():
        if isinstance(value, dict):
            value.pop("raw", None)
        elif isinstance(value, list) and value and isinstance(value[0], Mapping):
            others = [name for name in value if name != {"literal": "others"}]
            value[:] = others
    return item


def _write_cluster(cluster: Sequence[Cited], ids: Mapping[str, str]) -> str:
    parts = []
    for cited in cluster:
        prefix = f"{_escape(cited.prefix)} " if cited.prefix else ""
        locator = f", {_escape(cited.locator)}" if cited.locator else ""
        parts.append(f"{prefix}@{ids[cited.record.key]}{locator}")
    return f"[{'; '.join(parts)}]"


def _escape(text: str) -> str:
    return "".join(f"\\{sign}" if sign in "\\`*_{}[]<>#|~^@;$" else sign for sign in " ".join(text.split()))


def read_style(style: str | Path) -> str:
    """The text of a packaged style by its name, or of a `.csl` file."""
    name = str(style)
    if name in list_styles():
        return files("references.styles").joinpath(f"{name}.csl").read_text(encoding="utf-8")
    path = Path(style)
    if path.suffix != ".csl":
        known = ", ".join(("plain", *list_styles()))
        raise StyleProblem(
            f"there is no style {name!r}.", hint=f"Known: {known}; or give the path of a .csl file."
        )
    try:
        text = path.read_text(encoding="utf-8-sig")
    except (OSError, UnicodeDecodeError) as error:
        raise StyleProblem(f"the style cannot be read: {error}.", where=name) from error
    if "<style" not in text:
        raise StyleProblem("this is no CSL style: it has no <style> element.", where=name)
    if "independent-parent" in text and "<bibliography" not in text:
        raise StyleProblem(
            "this style only points to another one.",
            where=name,
            hint="Use the style that it names as independent-parent.",
        )
    return text


def find_pandoc() -> str:
    """The path of pandoc: of the package pypandoc-binary, or on the system. Raises StyleProblem."""
    try:
        import pypandoc

        return str(pypandoc.get_pandoc_path())
    except (ImportError, OSError):
        found = shutil.which("pandoc")
    if found is None:
        raise StyleProblem(
            'citation styles other than "plain" need pandoc, which is not installed.',
            hint='Run `pip install pypandoc-binary` (about 155 MB on disk), or use the style "plain".',
        )
    return found


@lru_cache(maxsize=16)
def _format(style: str, items: str, source: str) -> Formatted:
    pandoc = find_pandoc()
    with tempfile.TemporaryDirectory() as folder:
        style_path, items_path = Path(folder, "style.csl"), Path(folder, "items.json")
        style_path.write_text(style, encoding="utf-8")
        items_path.write_text(items, encoding="utf-8")
        command = [
            pandoc,
            "--from=markdown",
            "--to=html",
            "--wrap=none",
            "--citeproc",
            "--metadata=lang:en-US",
        ]
        command += [f"--csl={style_path}", f"--bibliography={items_path}"]
        try:
            done = subprocess.run(
                command, input=source.encode(), capture_output=True, timeout=600, check=False
            )
        except (OSError, subprocess.TimeoutExpired) as error:
            raise StyleProblem(
                f"pandoc did not finish: {error}.", hint="Cite fewer records at a time."
            ) from error
    if done.returncode:
        message = done.stderr.decode("utf-8", "replace").strip()[:500]
        raise StyleProblem(f"pandoc refused the style or the records: {message}")
    reader = _Reader()
    reader.feed(done.stdout.decode("utf-8"))
    return Formatted(tuple(map(_tidy, reader.citations)), tuple(map(_tidy, reader.entries)))


def _tidy(text: str) -> str:
    return " ".join(text.split())


class _Reader(HTMLParser):
    """pandoc's HTML: paragraphs with citations first, then a division with one division per entry."""

    def __init__(self) -> None:
        super().__init__(convert_charrefs=True)
        self.citations: list[str] = []
        self.entries: list[str] = []
        self._target: list[str] | None = None
        self._depth = 0
        self._spans: list[str] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        kind = dict(attrs).get("class") or ""
        if tag == "p" and not self._depth:
            self.citations.append("")
            self._target = self.citations
        elif tag == "div":
            if "csl-entry" in kind.split():
                self.entries.append("")
                self._target, self._depth = self.entries, 1
            elif self._depth:
                self._depth += 1
                self._add(" ")
        elif tag == "span":
            small = (
                "small-caps" in kind
                or "smallcaps" in kind
                or "small-caps" in (dict(attrs).get("style") or "")
            )
            self._spans.append("</span>" if small else "")
            self._add('<span style="font-variant:small-caps;">' if small else "")
        elif tag in _TAGS:
            self._add(f"<{_TAGS[tag]}>")
        elif tag == "br":
            self._add(" ")

    def handle_endtag(self, tag: str) -> None:
        if tag == "div" and self._depth:
            self._depth -= 1
            self._target = self.entries if self._depth else None
        elif tag == "p" and not self._depth:
            self._target = None
        elif tag == "span" and self._spans:
            self._add(self._spans.pop())
        elif tag in _TAGS:
            self._add(f"</{_TAGS[tag]}>")

    def handle_data(self, data: str) -> None:
        self._add(data)

    def _add(self, text: str) -> None:
        if self._target is not None:
            self._target[-1] += text


def is_long(records: Iterable[Record]) -> bool:
    """Whether a list is so long that pandoc will take more than some seconds."""
    return sum(1 for _ in records) > LONG_LIST

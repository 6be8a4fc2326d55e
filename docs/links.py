"""Links of built pages and of Markdown files: does what they point to exist? Nothing is asked of the network.

Addresses of other sites are held to their form only. A page must fetch nothing from outside: no script, style, font
or picture of another site.
"""

import os
import re
import unicodedata
from dataclasses import dataclass, field
from html.parser import HTMLParser
from pathlib import Path
from urllib.parse import unquote, urlsplit

FETCHED = {("script", "src"), ("img", "src"), ("iframe", "src"), ("source", "src"), ("use", "href")}
HOST = re.compile(r"[a-z0-9-]+(\.[a-z0-9-]+)+(:\d+)?|127\.0\.0\.1(:\d+)?|localhost(:\d+)?", re.IGNORECASE)
STYLE_FETCH = re.compile(r"(?:url\(|@import)\s*['\"]?((?:https?:)?//[^'\")\s]+)", re.IGNORECASE)
FENCED = re.compile(r"^( *)(```+|~~~+).*?^\1\2 *$", re.MULTILINE | re.DOTALL)
CODE = re.compile(r"(`+).+?\1", re.DOTALL)
MARKDOWN_LINK = re.compile(r"\]\(<?([^)\s>]+)>?(?:\s+\"[^\"]*\")?\)")
HEADING = re.compile(r"^#{1,6} +(.+?) *#*$", re.MULTILINE)


@dataclass
class Page(HTMLParser):
    """What one page points to, what it fetches, and what may be pointed at in it."""

    anchors: set[str] = field(default_factory=set)
    links: list[str] = field(default_factory=list)
    fetched: list[str] = field(default_factory=list)
    without_words: list[str] = field(default_factory=list)

    def __post_init__(self) -> None:
        super().__init__()

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        """Collect from one tag."""
        values = {name: value or "" for name, value in attrs}
        self.anchors.update(values[name] for name in ("id", "name") if values.get(name))
        for name, value in values.items():
            if (tag, name) in FETCHED or (tag == "link" and name == "href" and "rel" in values):
                self.fetched.append(value)
            elif tag == "a" and name == "href":
                self.links.append(value)
        if tag == "img" and not values.get("alt", "").strip():
            self.without_words.append(values.get("src", ""))


def check_site(folder: Path) -> list[str]:
    """Every dead link, fetch from outside and picture without words of the built pages, as `page: fault`."""
    folder = folder.resolve()
    pages = {path: read_page(path) for path in sorted(folder.rglob("*.html"))}
    faults: list[str] = []
    for path, page in pages.items():
        name = path.relative_to(folder)
        for address in dict.fromkeys((*page.links, *page.fetched)):
            fault = check_address(address, path, folder, pages)
            if fault:
                faults.append(f"{name}: {fault}: {address}")
        faults += [f"{name}: fetched from outside: {a}" for a in page.fetched if is_outside(a)]
        faults += [f"{name}: a picture without words: {src}" for src in page.without_words]
    for path in sorted(folder.rglob("*.css")):
        found = STYLE_FETCH.findall(path.read_text("utf-8"))
        faults += [f"{path.relative_to(folder)}: fetched from outside: {a}" for a in found]
    return faults


def read_page(path: Path) -> Page:
    """A built page, read."""
    page = Page()
    page.feed(path.read_text("utf-8"))
    return page


def is_outside(address: str) -> bool:
    """Whether an address belongs to another site."""
    return address.startswith("//") or urlsplit(address).scheme in ("http", "https", "ftp")


def check_address(address: str, path: Path, folder: Path, pages: dict[Path, Page]) -> str | None:
    """What is wrong with an address that stands on the page `path`; None where nothing is."""
    parts = urlsplit(address)
    if parts.scheme or address.startswith("//"):
        return check_form(address)
    target = Path(os.path.normpath(path.parent / unquote(parts.path))) if parts.path else path
    known = pages.get(target)
    if known is None and not target.is_file():
        return "dead link"
    if not target.is_relative_to(folder):
        return "a link out of the site"
    if parts.fragment and known is not None and unquote(parts.fragment) not in known.anchors:
        return "no such place on the page"
    return None


def check_form(address: str) -> str | None:
    """What is wrong with the form of an address outside; None where nothing is."""
    parts = urlsplit(address)
    if parts.scheme == "data":
        return None
    if parts.scheme == "mailto":
        return None if re.fullmatch(r"[^@\s]+@[^@\s]+\.[^@\s]+", parts.path) else "no address of a mailbox"
    if parts.scheme not in ("http", "https"):
        return "an address of an unknown kind"
    return None if HOST.fullmatch(parts.netloc) else "an address without a host"


def check_markdown(files: list[Path], root: Path) -> list[str]:
    """Dead links of Markdown files as they are read in the repository, as `file: fault`."""
    faults: list[str] = []
    for path in files:
        text = CODE.sub("", FENCED.sub("", path.read_text("utf-8")))
        for address in MARKDOWN_LINK.findall(text):
            fault = check_markdown_link(address, path, root)
            if fault:
                faults.append(f"{path.relative_to(root)}: {fault}: {address}")
    return faults


def check_markdown_link(address: str, path: Path, root: Path) -> str | None:
    """What is wrong with one link of a Markdown file; None where nothing is."""
    parts = urlsplit(address)
    if parts.scheme or address.startswith("//"):
        return check_form(address)
    target = (path.parent / unquote(parts.path)).resolve() if parts.path else path.resolve()
    if not target.is_relative_to(root.resolve()) or not target.exists():
        return "dead link"
    if parts.fragment and target.suffix == ".md" and unquote(parts.fragment) not in list_anchors(target):
        return "no such place in the file"
    return None


def list_anchors(path: Path) -> set[str]:
    """The places of a Markdown file that headings make, as code hosts and the site name them."""
    found: set[str] = set()
    for heading in HEADING.findall(FENCED.sub("", path.read_text("utf-8"))):
        words = re.sub(r"[`*]|\]\([^)]*\)", "", unicodedata.normalize("NFC", heading)).lower()
        slug = re.sub(r"[^\w\- ]", "", words).replace(" ", "-")
        name, number = slug, 0
        while name in found:
            number += 1
            name = f"{slug}-{number}"
        found.add(name)
    return found

"""Running text with marks in it, taken apart: the plain text, citations, ties to claims, accepted findings.

One pass over the text; every search for a closing mark that failed once is not tried again, so that the work
grows with the length of the text whatever stands in it. HTML and scripts are left out, never run.
"""

import re
from dataclasses import dataclass, field, replace

from evidence.reading.drafts.addresses import Address, end_of_link, find_addresses, read_link
from evidence.reading.drafts.model import Acceptance, Block, Citation, CitedKey, Segment, Tie

_KEY = r"[A-Za-z0-9_](?:[A-Za-z0-9_]|[:.#$%&\-+?<>~/](?=[A-Za-z0-9_]))*"
_CITED = re.compile(
    rf"(?<![\w@])-?@(?:\{{(?P<braced>[^}}]{{1,200}})\}}|(?P<key>(?:https?://(?:dx\.)?doi\.org/)?{_KEY}))"
)
_MARK = re.compile(r"\\[!-/:-@\[-`{-~]|<|`+|\[|\]|\*+|_+|~~|@|&(?:#\d{1,7}|#x[0-9a-fA-F]{1,6}|\w{2,31});|\n")
_BARE_MARK = re.compile(r"<|\[|\]|@|\n|\{\\")
_TAG = re.compile(r"</?[A-Za-z][^<>]{0,2000}>|<\d[\d:.]*>")
_ATTRIBUTE = re.compile(r"""([\w-]+)=("(?:[^"\\]|\\.)*"|'[^']*'|[^\s}]+)""")
_ACCEPT = re.compile(r"^\s*accept\s+([a-z-]+)\s*:\s*(\S.*?)\s*$", re.DOTALL)
LONGEST_LINK = 2_000  # characters of a link whose source is looked for; common practice, no source
_SILENT = ("script", "style", "template", "svg", "math", "iframe", "object")


@dataclass
class _Open:
    """A bracket that is being read: where it began, and what is to be done where it ends."""

    close: int
    resume: int
    start: int
    plain: int
    attributes: dict[str, str]
    cited: Citation | None = None  # of the source that a link leads to


@dataclass
class Inline:
    """Builds the plain text of one block. Offsets given to it are those of the source."""

    kind: str
    markdown: bool = True
    parts: list[str] = field(default_factory=list)
    segments: list[Segment] = field(default_factory=list)
    citations: list[Citation] = field(default_factory=list)
    ties: list[Tie] = field(default_factory=list)
    accepted: list[Acceptance] = field(default_factory=list)
    length: int = 0
    last: str = ""
    after_citation: bool = False

    def finish(self) -> Block:
        """The block as read."""
        return Block(
            self.kind,
            "".join(self.parts),
            tuple(self.segments),
            tuple(self.citations),
            tuple(self.ties),
            tuple(self.accepted),
        )

    def add(self, text: str, source: int) -> None:
        """Plain text that stands at `source`."""
        if self.after_citation and text:
            self.after_citation = False
            if self.last == " " and text[0] == " ":
                text, source = text[1:], source + 1
            elif self.last == " " and text[0] in ".,;:!?)":
                self._drop_last()
                if self.last in ",;:" and text[0] in ".!?)":  # "more, 10.5555/abc."
                    self._drop_last()
        if not text:
            return
        previous = self.segments[-1] if self.segments else None
        joins = previous is not None and (
            previous.plain + previous.length == self.length and previous.source + previous.length == source
        )
        if joins and previous is not None:
            self.segments[-1] = Segment(previous.plain, previous.source, previous.length + len(text))
        else:
            self.segments.append(Segment(self.length, source, len(text)))
        self._push(text)

    def join(self) -> None:
        """One space between two pieces, which has no place in the source."""
        if self.length and not self.last.isspace():
            self._push(" ")

    def _drop_last(self) -> None:
        """Take the space before a citation away where nothing but a stop comes after it."""
        last = self.segments[-1] if self.segments else None
        if last is None or last.plain + last.length != self.length or last.length < 2:
            return
        self.segments[-1] = Segment(last.plain, last.source, last.length - 1)
        self.parts[-1] = self.parts[-1][:-1]
        self.length -= 1
        self.last = self.parts[-1][-1:] or self.last

    def _push(self, text: str) -> None:
        self.parts.append(text)
        self.length += len(text)
        self.last = text[-1]

    def scan(self, text: str, base: int) -> None:
        """Take one stretch of source apart; `base`: its offset."""
        _Scan(self, text, base).run()


class _Scan:
    """One pass over one stretch of text."""

    def __init__(self, out: Inline, text: str, base: int) -> None:
        self.out, self.text, self.base = out, text, base
        self.marks = _MARK if out.markdown else _BARE_MARK
        self.closing = _pair_brackets(text)
        self.open: list[_Open] = []
        self.addresses = find_addresses(text)
        self.next = 0  # of the addresses
        self.missing: set[str] = set()

    def run(self) -> None:
        text, at = self.text, 0
        found = self.marks.search(text)
        while at < len(text):
            if found is not None and found.start() < at:
                found = self.marks.search(text, at)
            address = self.address_from(at)
            stop = found.start() if found else len(text)
            if address is not None and address.start <= stop:
                self.out.add(text[at : address.start], self.base + at)
                at = self.read_address(address)
                continue
            self.out.add(text[at:stop], self.base + at)
            if found is None:
                return
            at = self.read_mark(found)

    def address_from(self, at: int) -> Address | None:
        """The next address that begins at or behind a place."""
        while self.next < len(self.addresses) and self.addresses[self.next].start < at:
            self.next += 1
        return self.addresses[self.next] if self.next < len(self.addresses) else None

    def read_address(self, found: Address) -> int:
        """A DOI, which cites its source; its digits are no words of the sentence."""
        self.out.citations.append(
            Citation(
                found.keys, self.base + found.start, self.base + found.end, self.out.length, found.running, True,
                found.setting,
            )
        )  # fmt: skip
        self.out.after_citation = True
        return found.end

    def read_mark(self, found: re.Match[str]) -> int:
        """Deal with one mark; gives where to go on."""
        mark, at = found.group(), found.start()
        if mark == "\n":
            self.out.join()
            return self.skip_blanks(found.end())
        if mark[0] == "\\":
            self.out.add(mark[1], self.base + at + 1)
            return found.end()
        if mark == "<":
            return self.read_angle(at)
        if mark == "[":
            return self.read_bracket(at)
        if mark == "]":
            return self.close_bracket(at)
        if mark == "@":
            return self.read_bare_key(at)
        if mark == "{\\":  # position marks of SubRip writers
            end = self.find("}", at)
            return end + 1 if end >= 0 else self.keep(at, found.end())
        if mark[0] == "`":
            return self.read_code(mark, at)
        if mark[0] == "&":
            return self.read_entity(mark, at)
        return self.read_emphasis(mark, at)

    def keep(self, start: int, end: int) -> int:
        self.out.add(self.text[start:end], self.base + start)
        return end

    def skip_blanks(self, at: int) -> int:
        while at < len(self.text) and self.text[at] in " \t>":
            at += 1
        return at

    def find(self, closing: str, at: int) -> int:
        """Where `closing` stands next; a search that failed is not made again."""
        if closing in self.missing:
            return -1
        place = self.text.find(closing, at)
        if place < 0:
            self.missing.add(closing)
        return place

    def read_emphasis(self, mark: str, at: int) -> int:
        before, after = self.text[at - 1 : at], self.text[at + len(mark) : at + len(mark) + 1]
        spaced = (not before or before.isspace()) and (not after or after.isspace())
        inside_word = mark[0] == "_" and before.isalnum() and after.isalnum()
        between_digits = mark[0] == "*" and before.isdigit() and after.isdigit()
        if spaced or inside_word or between_digits:
            return self.keep(at, at + len(mark))
        return at + len(mark)

    def read_code(self, mark: str, at: int) -> int:
        end = self.find(mark, at + len(mark))
        if end < 0:
            return self.keep(at, at + len(mark))
        return end + len(mark)

    def read_entity(self, mark: str, at: int) -> int:
        from html import unescape

        meant = unescape(mark)
        if len(meant) == 1 and meant != "\0":
            self.out.segments.append(Segment(self.out.length, self.base + at, 1))
            self.out._push(meant)
            return at + len(mark)
        return self.keep(at, at + len(mark))

    def read_angle(self, at: int) -> int:
        text = self.text
        if text.startswith("<!--", at):
            end = self.find("-->", at + 4)
            if end < 0:
                return self.keep(at, at + 4)
            self.read_comment(text[at + 4 : end], at, end + 3)
            return end + 3
        tag = _TAG.match(text, at)
        if tag is None:
            return self.keep(at, at + 1)
        name = re.match(r"<([A-Za-z]+)", tag.group())
        if name and name[1].lower() in _SILENT and not tag.group().endswith("/>"):
            end = self.find(f"</{name[1]}", tag.end())
            if end >= 0:
                close = self.find(">", end)
                return close + 1 if close >= 0 else len(text)
        if re.match(r"</?(?:p|br|div|li|td|th|h\d|tr)\b", tag.group(), re.IGNORECASE):
            self.out.join()
        return tag.end()

    def read_comment(self, body: str, at: int, end: int) -> None:
        accepted = _ACCEPT.match(body)
        if not accepted:
            return
        line_start = self.text.rfind("\n", 0, at) + 1
        alone = not self.text[line_start:at].strip() and self.text[end : end + 1] in ("", "\n")
        here = self.out.length
        self.out.accepted.append(Acceptance(accepted[1], accepted[2], self.base + at, here, here, alone))

    def read_bracket(self, at: int) -> int:
        close = self.closing.get(at)
        if close is None:
            return self.keep(at, at + 1)
        text = self.text
        inner = text[at + 1 : close]
        after = text[close + 1 : close + 2]
        if "@" in inner[:500] and after not in ("(", "{") and (keys := read_keys(inner)):
            self.add_citation(keys, at, close + 1)
            return close + 1
        if after == "{" and (end := self.find("}", close + 2)) >= 0:
            attributes = {
                k: v.strip("\"'") for k, v in _ATTRIBUTE.findall(text[close + 2 : min(end, close + 1000)])
            }
            self.open.append(_Open(close, end + 1, at, self.out.length, attributes))
            return at + 1
        if self.out.markdown and inner.startswith("^"):
            return close + 1  # a footnote mark
        if self.out.markdown and after == "(" and (end := self.find(")", close + 2)) >= 0:
            return self.read_link(at, close, end)
        return self.keep(at, at + 1)

    def read_link(self, at: int, close: int, end: int) -> int:
        """A link, of which the words are read; one to a DOI cites its source."""
        linked = None
        if end - at <= LONGEST_LINK:
            end = end_of_link(self.text, close + 2, end)
            linked = read_link(self.text[at + 1 : close], self.text[close + 2 : end])
        if linked is None:
            self.open.append(_Open(close, end + 1, at, self.out.length, {}))
            return at + 1
        keys, setting = (CitedKey(linked[0]),), linked[1]
        if setting is None:
            return self.read_address(Address(at, end + 1, keys))
        cited = Citation(keys, self.base + at, self.base + end + 1, 0, address=True, setting=setting)
        self.open.append(_Open(close, end + 1, at, self.out.length, {}, cited))
        return at + 1

    def close_bracket(self, at: int) -> int:
        if not self.open or self.open[-1].close != at:
            return self.keep(at, at + 1)
        opened = self.open.pop()
        if opened.cited is not None:
            self.out.citations.append(replace(opened.cited, plain=self.out.length))
        claim, accept = opened.attributes.get("claim"), opened.attributes.get("accept")
        if claim:
            self.out.ties.append(
                Tie(
                    claim,
                    self.base + opened.start,
                    self.base + opened.resume,
                    opened.plain,
                    self.out.length,
                )
            )
        if accept:
            kind, _, reason = accept.partition(":")
            if reason.strip():
                self.out.accepted.append(
                    Acceptance(kind.strip(), reason.strip(), self.base + at, opened.plain, self.out.length)
                )
        return opened.resume

    def read_bare_key(self, at: int) -> int:
        found = _CITED.match(self.text, at)
        if found is None or self.text[at - 1 : at] == "/":  # "https://example.org/@coach1"
            return self.keep(at, at + 1)
        key = found["braced"] or found["key"]
        if not any(c.isdigit() for c in key):
            return self.keep(at, at + 1)  # a handle of a network, not a key
        self.out.citations.append(
            Citation((CitedKey(key),), self.base + at, self.base + found.end(), self.out.length, running=True)
        )
        return self.keep(found.start("braced" if found["braced"] else "key"), found.end())

    def add_citation(self, keys: tuple[CitedKey, ...], start: int, end: int) -> None:
        self.out.citations.append(Citation(keys, self.base + start, self.base + end, self.out.length))
        self.out.after_citation = True


def read_keys(inner: str) -> tuple[CitedKey, ...]:
    """The keys inside the brackets of a citation: `see @a, p. 4; @b`. Empty where it is no citation.

    A part without a key belongs to the one before it, else to the one behind it: no words are lost.
    """
    keys: list[CitedKey] = []
    waiting: list[str] = []
    for part in inner.split(";"):
        found = _CITED.search(part)
        if found is None:
            if said := " ".join(part.split()):
                waiting.append(said)
            if keys:
                keys[-1] = replace(keys[-1], locator=", ".join(filter(None, (keys[-1].locator, *waiting))))
                waiting = []
            continue
        locator = " ".join(part[found.end() :].strip(" ,").split())
        prefix = ", ".join((*waiting, " ".join(part[: found.start()].split()))).rstrip(" ,")
        keys.append(CitedKey(found["braced"] or found["key"], locator, prefix))
        waiting = []
    return tuple(keys)


def _pair_brackets(text: str) -> dict[int, int]:
    """Where each opening bracket closes; brackets that have no partner are not listed."""
    pairs: dict[int, int] = {}
    waiting: list[int] = []
    for found in re.finditer(r"\\.|\[|\]", text, re.DOTALL):
        mark = found.group()
        if mark == "[":
            waiting.append(found.start())
        elif mark == "]" and waiting:
            pairs[waiting.pop()] = found.start()
    return pairs

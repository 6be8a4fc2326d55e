"""Text clean-up: CSL's few tags, HTML entities, Unicode form, white space."""

import html
import re
import unicodedata

_TAG = re.compile(r"</?(?:i|b|sub|sup|sc|span)(?:\s[^<>]*)?/?>", re.IGNORECASE)
_SPACE = re.compile(r"\s+")
_ENTITY = re.compile(r"&(?:#\d{1,7}|#[xX][0-9a-fA-F]{1,6}|[A-Za-z][A-Za-z0-9]{1,31});")
_FOREIGN_TAGS = {
    "em": "i",
    "italic": "i",
    "strong": "b",
    "bold": "b",
    "inf": "sub",
    "subscript": "sub",
    "superscript": "sup",
}
_FOREIGN = re.compile(
    r"<(/?)(?:jats:)?(em|italic|strong|bold|inf|subscript|superscript|i|b|sub|sup)\s*>", re.IGNORECASE
)
_BLOCK = re.compile(
    r"</?(?:jats:)?(?:p|div|br|title|sec|scp|u|tt|mml:[\w]+|small|list|list-item|ul|li|ol)(?:\s[^<>]*)?/?>",
    re.I,
)


def plain(text: str | None) -> str:
    """The words of a CSL text variable, its tags taken out: `VO<sub>2</sub>max` is `VO2max`."""
    return squeeze(_TAG.sub("", text)) if text else ""


def squeeze(text: str) -> str:
    """The text with each run of white space as one space, in composed Unicode form (NFC)."""
    return unicodedata.normalize("NFC", _SPACE.sub(" ", text).strip())


def unescape(text: str) -> str:
    """HTML entities as characters and HTML or JATS tags as CSL's; a `&` or `<` of the text itself stays."""
    if "&" in text:
        text = _ENTITY.sub(lambda match: html.unescape(match.group()), text)
    if "<" in text:
        text = _FOREIGN.sub(
            lambda m: f"<{m.group(1)}{_FOREIGN_TAGS.get(m.group(2).lower(), m.group(2).lower())}>", text
        )
        text = _BLOCK.sub(" ", text)
    return text


def to_html(text: str | None) -> str:
    """A CSL text variable as HTML: its tags stay, everything else is escaped."""
    if not text:
        return ""
    pieces, start = [], 0
    for match in _TAG.finditer(text):
        pieces += [html.escape(text[start : match.start()], quote=False), match.group()]
        start = match.end()
    return "".join([*pieces, html.escape(text[start:], quote=False)])


_MARKDOWN = {
    "<i>": "*",
    "</i>": "*",
    "<b>": "**",
    "</b>": "**",
    "<sup>": "^",
    "</sup>": "^",
    "<sub>": "~",
    "</sub>": "~",
}
_MARKDOWN_SIGNS = re.compile(r"([\\`*_{}\[\]<>#|~^])")


def to_markdown(text: str | None) -> str:
    """A CSL text variable as Markdown: italics and bold as stars, raised and lowered text by ^ and ~."""
    if not text:
        return ""
    pieces, start = [], 0
    for match in _TAG.finditer(text):
        pieces.append(_MARKDOWN_SIGNS.sub(r"\\\1", text[start : match.start()]))
        pieces.append(_MARKDOWN.get(match.group().lower(), ""))
        start = match.end()
    return squeeze("".join([*pieces, _MARKDOWN_SIGNS.sub(r"\\\1", text[start:])]))

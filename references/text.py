"""Text clean-up: CSL's few tags, HTML entities, Unicode form, white space."""

import html
import re
import unicodedata

_TAG = re.compile(r"</?(?:i|b|em|strong|sub|sup|sc|u|span|inf|italic|bold)(?:\s[^<>]*)?/?>", re.IGNORECASE)
_SPACE = re.compile(r"\s+")


def plain(text: str | None) -> str:
    """The words of a CSL text variable, its tags taken out: `VO<sub>2</sub>max` is `VO2max`."""
    return squeeze(_TAG.sub("", text)) if text else ""


def squeeze(text: str) -> str:
    """The text with each run of white space as one space, in composed Unicode form (NFC)."""
    return unicodedata.normalize("NFC", _SPACE.sub(" ", text).strip())


def to_html(text: str | None) -> str:
    """A CSL text variable as HTML: its tags stay, everything else is escaped."""
    if not text:
        return ""
    pieces, start = [], 0
    for match in _TAG.finditer(text):
        pieces += [html.escape(text[start : match.start()], quote=False), match.group()]
        start = match.end()
    return "".join([*pieces, html.escape(text[start:], quote=False)])

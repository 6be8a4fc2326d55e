"""The one Jinja environment of what goes out: autoescape always on, unknown names refused, text made safe
for XML.

Templates are packaged; what people typed reaches them as data only.
"""

import re
from functools import cache
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from jinja2 import Environment

# characters that XML 1.0 cannot hold, and lone surrogates
UNSAFE = re.compile("[\x00-\x08\x0b\x0c\x0e-\x1f\x7f\ud800-\udfff\ufffe\uffff]")


def clean_text(text: str) -> str:
    """Text without the characters that would make a page or figure unreadable as XML."""
    return UNSAFE.sub("", text)


def safe_url(url: str) -> str:
    """The address if it is an ordinary web address, else nothing: no other scheme is ever made a link."""
    cleaned = clean_text(url).strip()
    return cleaned if re.match(r"https?://[^\s\"'<>]+$", cleaned, re.IGNORECASE) else ""


def render(template: str, **values: Any) -> str:
    """Fill a packaged template."""
    return environment().get_template(template).render(**values)


@cache
def environment() -> "Environment":
    """The environment; made once, as late as possible."""
    from jinja2 import Environment, PackageLoader, StrictUndefined

    made = Environment(
        loader=PackageLoader("evidence.publishing", "templates"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
        keep_trailing_newline=True,
        finalize=tell,
    )
    made.filters["safe_url"] = safe_url
    return made


def tell(value: Any) -> Any:
    """Nothing for None; text that any page can hold, a figure and its percent sign on one line."""
    if value is None:
        return ""
    return clean_text(value).replace(" %", "\u00a0%") if type(value) is str else value

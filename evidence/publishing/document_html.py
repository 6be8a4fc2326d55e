"""Documents as one HTML file: inline styles and figures, no scripts, nothing fetched."""

from evidence.publishing.document import Document, Mark, settle_levels
from evidence.publishing.mark import mark_svg
from evidence.publishing.templating import render


def write_html(document: Document) -> str:
    """The document as one HTML file."""
    return _filled(document, "page.html")


def write_fragment(document: Document) -> str:
    """The document's title, body and footing alone, to stand within a page."""
    return _filled(document, "fragment.html")


def _filled(document: Document, layout: str) -> str:
    return render(
        "document.html",
        layout=layout,
        document=document,
        blocks=settle_levels(document.blocks),
        made=document.made,
        invented=document.invented,
        invented_text=document.banner,
        kind=_kind,
        drawn=_drawn,
        trusted=_trusted,
    )


def _kind(block: object) -> str:
    return type(block).__name__


def _drawn(mark: Mark) -> object:
    return _trusted(mark_svg(mark.level, mark.low, mark.high))


def _trusted(svg: str) -> object:
    from markupsafe import Markup

    return Markup(svg)  # made by our own templates, which escape

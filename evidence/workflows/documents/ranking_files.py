"""A ranking as a file, remembered as something that went out."""

from pathlib import Path

from evidence.catalogue import Catalogue
from evidence.errors import BadInput
from evidence.publishing.rankings import Ranking
from evidence.workflows.making import write_bytes, write_text
from evidence.workflows.upkeep.uses import register_use, told_order

DOCUMENTS = (".pdf", ".docx", ".txt", ".xlsx", ".csv")


def write_ranking(ranking: Ranking, output: Path, paper: str = "a4") -> None:
    """Write a ranking by the file's ending: .html, .md, .svg (the figure alone), or one of `DOCUMENTS`.

    `paper`: a4 or letter, for .pdf and .docx.
    """
    from evidence.publishing.formats import choose_format, write_document
    from evidence.publishing.ranking_document import ranking_document
    from evidence.publishing.ranking_pages import ranking_html, ranking_markdown
    from evidence.publishing.rankings import ranking_svg

    kind = output.suffix.lower()
    if kind == ".svg":
        text = ranking_svg(ranking, standalone=True)
    elif kind in (".html", ".htm"):
        text = ranking_html(ranking)
    elif kind in (".md", ".markdown"):
        text = ranking_markdown(ranking)
    elif kind in DOCUMENTS:
        write_bytes(output, write_document(ranking_document(ranking), choose_format(None, output, paper)))
        return
    else:
        raise BadInput(
            f'ends in "{output.suffix}".',
            where=str(output),
            hint=f"Name a file that ends in .html, .md, .svg, {', '.join(DOCUMENTS[:-1])} or {DOCUMENTS[-1]}.",
        )
    write_text(output, text)


def publish_ranking(
    catalogue: Catalogue, ranking: Ranking, output: Path, who: str, paper: str = "a4"
) -> None:
    """Write a ranking and remember that it went out, so that a later change can list it."""
    write_ranking(ranking, output, paper)
    told = {
        "region": ranking.region,
        "outcome": ranking.construct,
        "scale": ranking.scale,
        "level": ranking.level,
        "training_status": ranking.training_status,
        "sex": ranking.sex,
        "against": ranking.parts[0].comparator if ranking.parts else "",
        "order": told_order(ranking),
    }
    place, kind = str(output), output.suffix.lower().lstrip(".")
    register_use(catalogue, "ranking", place, who, place=place, format=kind, body=told)

"""A ranking as a file, remembered as something that went out."""

from pathlib import Path

from evidence.catalogue import Catalogue
from evidence.errors import BadInput
from evidence.publishing.rankings import Ranking
from evidence.workflows.making import write_text
from evidence.workflows.upkeep.uses import register_use, told_order


def write_ranking(ranking: Ranking, output: Path) -> None:
    """Write a ranking as .html, .svg or .md, by the file's ending."""
    from evidence.publishing.ranking_pages import ranking_html, ranking_markdown
    from evidence.publishing.rankings import ranking_svg

    kind = output.suffix.lower()
    if kind == ".svg":
        text = ranking_svg(ranking, standalone=True)
    elif kind in (".html", ".htm"):
        text = ranking_html(ranking)
    elif kind in (".md", ".markdown"):
        text = ranking_markdown(ranking)
    else:
        raise BadInput(
            f'ends in "{output.suffix}".',
            where=str(output),
            hint="Name a file that ends in .html, .svg or .md.",
        )
    write_text(output, text)


def publish_ranking(catalogue: Catalogue, ranking: Ranking, output: Path, who: str) -> None:
    """Write a ranking and remember that it went out, so that a later change can list it."""
    write_ranking(ranking, output)
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

"""Citing: the short form for tables and captions, in text, and bibliographies.

The short form and the style "plain" are made here, with nothing to install. Every other style is CSL, applied
by pandoc (`references.csl`), imported only then. Year letters follow the order of the plain list, so that the
short form and the list agree.
"""

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from pathlib import Path

from references.plain_style import format_plain
from references.record import Name, Record
from references.text import plain, to_html, to_markdown

OUTPUTS = ("text", "html", "markdown", "tagged")


def short_citation(record: Record, suffix: str = "") -> str:
    """`Lehman et al. 2004`; two names as `Liu & Latham 2009`; without author: editor, else first words.

    `suffix` is the year letter; `label_records` gives it where several records would read the same.
    """
    return f"{name_authors(record)} {_when(record)}{suffix}".strip()


def label_records(records: Iterable[Record]) -> dict[str, str]:
    """The short form of each record by its key, with year letters where two would read the same."""
    listed = list({record.key: record for record in records}.values())
    alike: defaultdict[str, list[Record]] = defaultdict(list)
    for record in sort_records(listed):
        alike[short_citation(record)].append(record)
    labels: dict[str, str] = {}
    for label, group in alike.items():
        for index, record in enumerate(group):
            labels[record.key] = label if len(group) == 1 else short_citation(record, _letter(index))
    return {record.key: labels[record.key] for record in listed}


def inline(
    records: Sequence[Record],
    *,
    labels: Mapping[str, str] | None = None,
    locators: Mapping[str, str] | None = None,
    prefixes: Mapping[str, str] | None = None,
) -> str:
    """One citation in running text: `(Lehman et al. 2004, p. 3; Liu & Latham 2009)`.

    `labels` are those of the whole document (`label_records`); `locators` hold a place by record key, `prefixes`
    the words before it ("see").
    """
    known = labels if labels is not None else label_records(records)
    parts = []
    for record in records:
        label = known.get(record.key) or short_citation(record)
        locator = (locators or {}).get(record.key)
        prefix = (prefixes or {}).get(record.key)
        parts.append("".join((f"{prefix} " if prefix else "", label, f", {locator}" if locator else "")))
    return f"({'; '.join(parts)})" if parts else ""


def sort_records(records: Iterable[Record]) -> list[Record]:
    """Records by names, date and title: the order of the plain list and of year letters."""
    return sorted(records, key=_sort_key)


def format_bibliography(
    records: Sequence[Record], style: str | Path = "ama", output: str = "text"
) -> tuple[str, ...]:
    """The bibliography entry by entry, in the order of the style. A record listed twice is one entry.

    `style`: "plain" (ours, needs nothing), a packaged CSL style by name, or the path of a `.csl` file.
    `output`: "text", "html", "markdown", or "tagged" (text with CSL's few tags). Raises StyleProblem, ValueError.
    """
    if output not in OUTPUTS:
        raise ValueError(f"output must be one of {', '.join(OUTPUTS)}, not {output!r}")
    listed = list({record.key: record for record in records}.values())
    if style == "plain":
        labels = label_records(listed)
        lines = [format_plain(record, _letter_of(record, labels)) for record in sort_records(listed)]
    else:
        from references.csl import format_entries

        lines = list(format_entries(listed, style))
    if output == "tagged":
        return tuple(lines)
    convert = {"text": plain, "html": to_html, "markdown": to_markdown}[output]
    return tuple(convert(line) for line in lines)


def name_authors(record: Record) -> str:
    """The names of a short form: `Lehman et al.`, `Liu & Latham`; without author: editor, else first words."""
    names = record.author or record.editor or record.translator
    truncated = bool(names) and names[-1] == Name(literal="others")
    shown = [plain(name.sort_family) for name in names if name != Name(literal="others")]
    if not shown:
        words = plain(record.title).split()
        first = " ".join(words[:4])
        return (f"{first.rstrip('.…,;: ')}…" if len(words) > 4 else first) if words else record.key
    if len(shown) == 1:
        return f"{shown[0]} et al." if truncated else shown[0]
    return f"{shown[0]} & {shown[1]}" if len(shown) == 2 and not truncated else f"{shown[0]} et al."


def _when(record: Record) -> str:
    if record.issued is not None and record.issued.year is not None:
        return str(record.issued.year) if record.issued.year > 0 else f"{-record.issued.year} BC"
    if record.status:
        return plain(record.status)
    return plain(record.issued.literal) if record.issued is not None and record.issued.literal else "n.d."


def _letter(index: int) -> str:
    """a to z, then aa, ab, ..."""
    letters = ""
    index += 1
    while index:
        index, rest = divmod(index - 1, 26)
        letters = chr(ord("a") + rest) + letters
    return letters


def _letter_of(record: Record, labels: Mapping[str, str]) -> str:
    return labels[record.key].removeprefix(short_citation(record))


def _sort_key(record: Record) -> tuple[str, int, int, int, str, str]:
    names = record.author or record.editor or record.translator
    who = " ".join(f"{name.sort_family} {name.given or ''}" for name in names) or plain(record.title)
    year = record.year if record.year is not None else 9999
    month = record.issued.month or 0 if record.issued else 0
    day = record.issued.day or 0 if record.issued else 0
    return (who.casefold(), year, month, day, plain(record.title).casefold(), record.key)

"""Records as a file of any format that can be read."""

from collections.abc import Iterable

from references.record import Record

WRITABLE = ("bibtex", "ris", "medline", "pubmed_xml", "csl_json", "identifiers")


def write_records(records: Iterable[Record], format: str) -> str:
    """The records as the text of a file. Reading it gives the same records; "identifiers" keeps only those.

    Raises ValueError for a format that is not in WRITABLE.
    """
    if format == "bibtex":
        from references.bibtex_write import write_bibtex

        return write_bibtex(records)
    if format == "ris":
        from references.ris_write import write_ris

        return write_ris(records)
    if format == "medline":
        from references.medline_write import write_medline

        return write_medline(records)
    if format == "pubmed_xml":
        from references.pubmed_xml_write import write_pubmed_xml

        return write_pubmed_xml(records)
    if format == "csl_json":
        from references.csl_json import write_csl_json

        return write_csl_json(records)
    if format == "identifiers":
        from references.identifier_lists import write_list

        return write_list(records)
    raise ValueError(f"no writer for {format!r}: one of {', '.join(WRITABLE)}")

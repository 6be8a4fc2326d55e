"""Files for the visitor: what kind each format is, and how it is handed out."""

from starlette.responses import Response

MEDIA = {
    "pdf": "application/pdf",
    "docx": "application/vnd.openxmlformats-officedocument.wordprocessingml.document",
    "xlsx": "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet",
    "html": "text/html; charset=utf-8",
    "md": "text/markdown; charset=utf-8",
    "txt": "text/plain; charset=utf-8",
    "csv": "text/csv; charset=utf-8",
}


def handed(content: bytes, media: str, name: str) -> Response:
    """A file for the visitor, saved and not shown: nothing in it runs in a page of ours."""
    plain = "".join(c if c.isascii() and (c.isalnum() or c in "._-") else "-" for c in name)
    return Response(
        content, media_type=media, headers={"Content-Disposition": f'attachment; filename="{plain}"'}
    )

"""Files that are sent: nothing, too much, of another kind, with a path for a name, packed to burst: a sentence each."""

import io
import zipfile

import pytest

FORMS = {
    "/references/add": {},
    "/references/notices": {},
    "/drafts": {"name": "sent"},
    "/programmes": {"name": "sent"},
    "/studies/plate-2017/table": {"do": "look", "read_from": "full text"},
}
NAMES = [
    "x.bib",
    "x.xlsx",
    "x.docx",
    "x.csv",
    "x.json",
    "x.xml",
    "x.zip",
    "x.bib.gz",
    "x",
    "../../x.bib",
    "x\x00.bib",
]
CONTENTS = {
    "nothing": b"",
    "blanks": b" \n\t\n",
    "zeros": b"\x00" * 4000,
    "every byte": bytes(range(256)) * 8,
    "half a zip": b"PK\x03\x04" + b"\x01" * 200,
    "half gzip": b"\x1f\x8b\x08" + b"\x02" * 200,
    "broken UTF-8": b"@article{a, title={\xff\xfe\xfa}}",
    "an external entity": b'<?xml version="1.0"?><!DOCTYPE a [<!ENTITY x SYSTEM "file:///etc/hostname">]><a>&x;</a>',
    "entities that multiply": b'<?xml version="1.0"?><!DOCTYPE a [<!ENTITY a "aaaaaaaaaa">'
    b'<!ENTITY b "&a;&a;&a;&a;&a;&a;">'
    b"]><a>&b;&b;&b;&b;&b;&b;&b;&b;</a>",
}


def packed(names: dict[str, bytes]) -> bytes:
    """A zip with these files in it."""
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, data in names.items():
            archive.writestr(name, data)
    return out.getvalue()


def send(visitor, place, name, data):
    return visitor.post(place, data=FORMS[place], files={"file": (name, data, "application/octet-stream")})


@pytest.mark.parametrize("place", FORMS)
@pytest.mark.parametrize("content", CONTENTS)
def test_a_file_of_any_content_is_answered_with_a_page(visitor, place, content):
    for name in ("x.bib", "x.xlsx", "x.docx", "x"):
        answer = send(visitor, place, name, CONTENTS[content])
        assert answer.status_code in (200, 422), (name, answer.text[:600])
        assert "Traceback" not in answer.text and "root:" not in answer.text


@pytest.mark.parametrize("place", FORMS)
def test_a_name_with_a_path_leads_nowhere(visitor, place, tmp_path):
    for name in NAMES:
        answer = send(visitor, place, name, b"@article{a1, title={One}, year={2001}}")
        assert answer.status_code in (200, 422), (name, answer.text[:600])
        assert "../" not in answer.text
    assert {p.name for p in tmp_path.iterdir()} <= {
        "catalogue.sqlite", "catalogue.sqlite-wal", "catalogue.sqlite-shm", "catalogue.sqlite-lock"
    }  # fmt: skip


@pytest.mark.parametrize(
    ("place", "name", "inside"),
    [
        ("/studies/plate-2017/table", "bomb.xlsx", "xl/worksheets/sheet1.xml"),
        ("/drafts", "bomb.docx", "word/document.xml"),
        ("/references/add", "bomb.zip", "records.bib"),
    ],
)
def test_a_file_packed_to_burst_is_refused_before_it_fills_the_memory(visitor, place, name, inside):
    import tracemalloc

    content = {"[Content_Types].xml": b"<Types/>", inside: b"<a>" + b" " * 150_000_000}
    data = packed(content)
    assert len(data) < 200_000  # small enough to be let in
    tracemalloc.start()
    answer = send(visitor, place, name, data)
    peak = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    assert answer.status_code in (200, 422), answer.text[:600]
    assert peak < 150_000_000


def test_more_than_the_limit_is_refused_in_every_form(visitor):
    for place in FORMS:
        answer = send(visitor, place, "x.bib", b"x" * 300_000)
        assert answer.status_code == 413 and "MB" in answer.text


def test_many_files_and_fields_at_once_are_refused_as_a_sentence(visitor):
    files = [("file", (f"{n}.bib", b"x", "text/plain")) for n in range(40)]
    answer = visitor.post("/references/add", files=files)
    assert answer.status_code in (200, 400, 413, 422) and "Traceback" not in answer.text
    answer = visitor.post(
        "/undo/1", content="a=1&" * 30_000, headers={"Content-Type": "application/x-www-form-urlencoded"}
    )
    assert answer.status_code in (400, 413, 422)


@pytest.mark.parametrize(
    "kind", ["application/json", "text/plain", "multipart/form-data", "multipart/form-data; boundary=x"]
)
def test_a_body_that_is_no_form_is_answered_with_a_page(visitor, kind):
    for place in FORMS:
        answer = visitor.post(place, content=b'{"text": 1}', headers={"Content-Type": kind})
        assert answer.status_code in (200, 400, 422), (place, answer.status_code, answer.text[:400])

"""The first cell of each table row as its header, in the structure of a PDF file (ISO 32000-1, 14.8.4.3, 14.8.5.7).

The typesetter tags column headers and has no way to say that a cell heads its row. Its files are plain: one object
after another, and a table of their places at the end. Here the tags of body cells are changed and the places counted
anew. A file that is not as plain as that is left as it is: tagged as before, and not wrong.
"""

import re

_CELL = re.compile(rb"/S/TD\b")
_NAMED = re.compile(rb"<</O/Table/Headers\[[^\]]*\]>>")
_KIDS = re.compile(rb"/K\[((?:\d+ 0 R ?)+)\]")
_PLACES = re.compile(rb"xref\n0 (\d+)\n")


def mark_row_headers(data: bytes) -> bytes:
    """The file with the first cell of each body row tagged as the row's header.

    With a scope on every header, readers find those of a cell by themselves, so that no cell names its own.
    """
    found = _read_objects(data)
    if found is None:
        return data
    objects, places = found
    for row in [r for body in _of_kind(objects, b"TBody") for r in _kids(objects[body])]:
        for place, cell in enumerate(_kids(objects.get(row, b""))):
            if cell in objects and _CELL.search(objects[cell]):
                objects[cell] = _head_row(objects[cell]) if place == 0 else _plain(objects[cell])
    return _write_objects(data, objects, places)


def _head_row(cell: bytes) -> bytes:
    scoped = b"<</O/Table/Scope/Row>>"
    made = _CELL.sub(b"/S/TH", cell, count=1)
    if _NAMED.search(made):
        return _NAMED.sub(scoped, made, count=1)
    return made.replace(b"/S/TH", b"/S/TH/A[" + scoped + b"]", 1) if b"/A[" not in made else cell


def _plain(cell: bytes) -> bytes:
    return _NAMED.sub(b"", cell, count=1).replace(b"/A[]", b"", 1)


def _of_kind(objects: dict[int, bytes], kind: bytes) -> list[int]:
    tagged = re.compile(rb"<</Type/StructElem/S/" + kind + rb"\b")
    return [number for number, text in objects.items() if tagged.search(text[:64])]


def _kids(element: bytes) -> list[int]:
    found = _KIDS.search(element)
    return [int(number) for number in re.findall(rb"(\d+) 0 R", found[1])] if found else []


def _read_objects(data: bytes) -> tuple[dict[int, bytes], int] | None:
    """Each object by its number in the order of the file, and where the table of their places stands.

    None for a file that is built in another way.
    """
    end = re.search(rb"startxref\n(\d+)\n%%EOF\s*\Z", data)
    table = _PLACES.match(data, int(end[1])) if end is not None else None
    if end is None or table is None:
        return None
    places, size = int(end[1]), int(table[1])
    lines = [data[table.end() + 20 * n : table.end() + 20 * (n + 1)] for n in range(size)]
    at = {n: int(line[:10]) for n, line in enumerate(lines) if line[17:18] == b"n"}
    order = sorted(at, key=lambda n: at[n])
    stops = [*(at[n] for n in order[1:]), places]
    objects = {n: data[at[n] : stop] for n, stop in zip(order, stops, strict=True)}
    plain = all(text.startswith(b"%d 0 obj" % n) for n, text in objects.items())
    return (objects, places) if plain and objects else None


def _write_objects(data: bytes, objects: dict[int, bytes], places: int) -> bytes:
    """The file with these objects, and the table of their places counted anew."""
    moved: dict[int, int] = {}
    at = first = data.index(b"%d 0 obj" % next(iter(objects)))
    for number, text in objects.items():
        moved[number] = at
        at += len(text)
    table = _PLACES.match(data, places)
    assert table is not None  # it was read before
    lines = bytearray(data[table.end() : table.end() + 20 * int(table[1])])
    for number, place in moved.items():
        lines[20 * number : 20 * number + 10] = b"%010d" % place
    rest = data[table.end() + len(lines) :]
    last = re.sub(rb"(?<=startxref\n)\d+", b"%d" % at, rest)
    return data[:first] + b"".join(objects.values()) + table[0] + bytes(lines) + last

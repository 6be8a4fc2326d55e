"""Files that a form brought, or a text in place of one, kept on disk while something reads them."""

import tempfile
from collections.abc import Callable
from pathlib import Path
from typing import TypeVar

from evidence.errors import BadInput
from evidence.web.forms import Sent

T = TypeVar("T")


def with_file(sent: Sent, name: str, work: Callable[[Path], T]) -> T:
    """Do something with the file or text that was sent, kept on disk meanwhile; of several files, with their folder.

    Raises BadInput where there is none.
    """
    file, several = sent.files.get("file"), sent.all_files.get("file", ())
    data = file.data if file else sent.values.get("text", "").encode("utf-8", "surrogatepass")
    if len(several) < 2 and not data.strip():
        raise BadInput("There is nothing to read.", hint="Choose a file, or paste its text.")
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / name_sent(sent, name)
        if len(several) < 2:
            path.write_bytes(data)
        else:
            path.mkdir()
            for number, one in enumerate(several, 1):
                place = path / safe_name(one.name)
                while place.exists():
                    place = place.with_name(f"{number} {place.name}")
                place.write_bytes(one.data)
        try:
            return work(path)
        except BadInput as problem:
            raise without_folder(problem, folder) from None


def without_folder(problem: BadInput, folder: str) -> BadInput:
    """A problem that names the file as it was sent, not where it was kept meanwhile."""
    problem.message = problem.message.replace(f"{folder}/", "")
    problem.where = problem.where.replace(f"{folder}/", "") if problem.where else None
    return problem


def name_sent(sent: Sent, name: str) -> str:
    """The name of the file that was sent, else of what was pasted."""
    file, several = sent.files.get("file"), sent.all_files.get("file", ())
    if len(several) > 1:
        return f"{len(several)} files"
    return safe_name(file.name if file else f"pasted {name}")


def safe_name(name: str) -> str:
    """A file's name without anything that would lead out of its folder or that a disk refuses."""
    plain = "".join(c if c.isprintable() and c not in '/\\:*?"<>|' else "_" for c in name).strip(". ")
    return plain[-100:] or "file"

"""What a form brings: text as typed, trimmed; empty fields as nothing; files with their names."""

from dataclasses import dataclass, field

from starlette.datastructures import UploadFile
from starlette.requests import Request

MOST_FIELDS = 20_000  # a pasted grid sends a field for each cell
MOST_FILES = 200  # a folder of exports; the guard bounds what they hold together


@dataclass(frozen=True, slots=True)
class Sent:
    """The fields of a form. `values` keep what was typed, to show it again; `files`: the last of each field."""

    values: dict[str, str]
    lists: dict[str, tuple[str, ...]]
    files: dict[str, "SentFile"] = field(default_factory=dict)
    all_files: dict[str, tuple["SentFile", ...]] = field(default_factory=dict)

    def text(self, name: str) -> str:
        """A field trimmed; empty where it was not sent."""
        return self.values.get(name, "").strip()

    def given(self, name: str) -> str | None:
        """A field, or None where nothing was typed."""
        return self.text(name) or None

    def several(self, name: str) -> tuple[str, ...]:
        """Every value of a field that may be sent more than once, without empty ones."""
        return tuple(value.strip() for value in self.lists.get(name, ()) if value.strip())

    def ticked(self, name: str) -> bool:
        """Whether a box was ticked."""
        return name in self.values


@dataclass(frozen=True, slots=True)
class SentFile:
    """A file as it was sent; `name` without any folder."""

    name: str
    data: bytes


async def read_form(request: Request) -> Sent:
    """The form of a request, files read whole (the guard bounds their size)."""
    values: dict[str, str] = {}
    lists: dict[str, tuple[str, ...]] = {}
    files: dict[str, tuple[SentFile, ...]] = {}
    async with request.form(max_fields=MOST_FIELDS, max_files=MOST_FILES) as form:
        for name, value in form.multi_items():
            if isinstance(value, UploadFile):
                if value.filename:
                    plain = value.filename.replace("\\", "/").rsplit("/", 1)[-1]
                    files[name] = (*files.get(name, ()), SentFile(plain, await value.read()))
            else:
                values.setdefault(name, value.replace("\r\n", "\n"))
                lists[name] = (*lists.get(name, ()), value.replace("\r\n", "\n"))
    return Sent(values, lists, {name: several[-1] for name, several in files.items()}, files)

"""Files that are zip archives (DOCX, XLSX) with fixed dates inside, so that the same content gives the same bytes."""

import io
import zipfile
from datetime import datetime


def seal_zip(data: bytes, moment: datetime) -> bytes:
    """The archive written anew, in the order of its names, each entry dated `moment` (the format begins in 1980)."""
    stamp = max(moment, datetime(1980, 1, 1, tzinfo=moment.tzinfo)).timetuple()[:6]
    target = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(data)) as source, zipfile.ZipFile(target, "w") as sealed:
        names = sorted(source.namelist(), key=lambda name: (name != "[Content_Types].xml", name))
        for name in names:
            entry = zipfile.ZipInfo(name, stamp)
            entry.compress_type = zipfile.ZIP_DEFLATED
            entry.external_attr = 0o600 << 16
            sealed.writestr(entry, source.read(name))
    return target.getvalue()

"""A song's folder as one archive; the same files give the same bytes.

Files are stored uncompressed, since sound does not compress, in the order of their names and with
the archive format's first date (PKWARE, "APPNOTE.TXT": dates count from 1980).
"""

from __future__ import annotations

import shutil
from collections.abc import Iterable
from pathlib import Path
from zipfile import ZIP_STORED, ZipFile, ZipInfo

FIRST_DATE = (1980, 1, 1, 0, 0, 0)
_READABLE = 0o100644 << 16


def pack(archive: Path, folder: Path, names: Iterable[str], inside: str) -> None:
    """Write an archive of a folder's files, in a folder `inside` it; raises OSError."""
    with ZipFile(archive, "x", ZIP_STORED) as into:
        for name in sorted(names):
            info = ZipInfo(f"{inside}/{name}", FIRST_DATE)
            info.create_system = 3  # the same on every system
            info.external_attr = _READABLE
            size = (folder / name).stat().st_size
            with (
                open(folder / name, "rb") as file,
                into.open(info, "w", force_zip64=size >= 1 << 31) as entry,
            ):
                shutil.copyfileobj(file, entry, 1 << 20)

"""A chart read back: its bars from a PDF's text, and pictures as rows of gray."""

from __future__ import annotations

import re
import zlib
from collections.abc import Iterator, Mapping, Sequence
from io import BytesIO
from pathlib import Path
from typing import NamedTuple

from pypdf import PdfReader

from backing.form.bars import print_bar
from backing.form.model import Form, PassSettings, Section, WrittenBar

ROOT = Path(__file__).parents[2]
DEMOS = tuple(sorted((ROOT / "forms").glob("*.yaml")))
HARD = tuple(sorted((Path(__file__).parent / "forms").glob("*.yaml")))
_NOT_BARS = re.compile(r"[0-9.,– ]*|simile|Lead|Guitar")


def text_of(pdf: bytes) -> str:
    """A PDF's text in the order that it is stored."""
    return "\n".join(page.extract_text() for page in PdfReader(BytesIO(pdf)).pages)


def bars_read(pdf: bytes) -> list[list[str]]:
    """The slots of every bar, in the order of the page, with typed sharps and flats."""
    found: list[list[str]] = []
    going_on = ""
    for line in text_of(pdf).splitlines():
        at = line.find("| ")
        text = line.strip() if going_on else line[at:].strip() if at >= 0 else ""
        if not text or (going_on and _NOT_BARS.fullmatch(text)):
            continue
        going_on += f" {text}"
        if text.endswith("|"):
            pieces = going_on.strip().strip("|").split("|")
            found += [_plain(piece).split() for piece in pieces]
            going_on = ""
    assert not going_on, going_on
    return found


def bars_written(form: Form) -> list[list[str]]:
    """The same of a form: each section where it first plays, pickup first, as it is typed."""
    bars = [form.pickup] if form.pickup is not None else []
    seen: set[tuple[str, int]] = set()
    for entry in form.entries:
        key = (entry.section, entry.transpose)
        if entry.transpose == 0 and key not in seen:
            bars += list(section_bars(form.sections[entry.section]))
        seen.add(key)
        if entry.transpose == 0:
            bars += list(_varied_bars(entry.on_pass))
    return [print_bar(bar).split() for bar in bars]


def section_bars(section: Section) -> Iterator[WrittenBar]:
    """A section's bars as a chart shows them: endings alike once, then passes of their own."""
    yield from (bar for row in section.rows for bar in row)
    printed: list[object] = []
    for rows in section.endings.values():
        if rows not in printed:
            printed.append(rows)
            yield from (bar for row in rows for bar in row)
    yield from _varied_bars(section.on_pass)


def _varied_bars(on_pass: Mapping[int, PassSettings]) -> Iterator[WrittenBar]:
    varied = []
    for output in on_pass.values():
        if output.rows is not None and output not in varied:
            varied.append(output)
            yield from (bar for row in output.rows for bar in row)


def without_meters(bars: Sequence[Sequence[str]]) -> list[list[str]]:
    """Bars without their meters, which the page shows where they change."""
    return [[slot for slot in bar if not re.match(r"[0-9(]", slot)] for bar in bars]


def _plain(text: str) -> str:
    return text.replace("♯", "#").replace("♭", "b").replace("\u200e", "")


class Picture(NamedTuple):
    """Gray from 0 (black) to 255, row by row."""

    width: int
    height: int
    rows: list[bytes]

    def cells(self, size: int) -> list[float]:
        """The mean gray of squares of so many dots."""
        found = []
        for top in range(0, self.height - size + 1, size):
            band = self.rows[top : top + size]
            for left in range(0, self.width - size + 1, size):
                found.append(sum(sum(row[left : left + size]) for row in band) / size**2)
        return found


def picture(png: bytes) -> Picture:
    """A PNG of 8 bits a channel (ISO/IEC 15948: chunks, filters)."""
    at, data, header = 8, b"", b""
    while at < len(png):
        length = int.from_bytes(png[at : at + 4], "big")
        kind, body = png[at + 4 : at + 8], png[at + 8 : at + 8 + length]
        header = body if kind == b"IHDR" else header
        data += body if kind == b"IDAT" else b""
        at += length + 12
    width, height = int.from_bytes(header[:4], "big"), int.from_bytes(header[4:8], "big")
    channels = {0: 1, 2: 3, 4: 2, 6: 4}[header[9]]
    raw, stride = zlib.decompress(data), width * channels
    before, rows = bytearray(stride), []
    for row in range(height):
        start = row * (stride + 1)
        line = bytearray(raw[start + 1 : start + 1 + stride])
        _unfilter(raw[start], line, before, channels)
        rows.append(bytes(line[::channels]))  # ours are gray: one channel tells
        before = line
    return Picture(width, height, rows)


def _unfilter(kind: int, line: bytearray, before: bytearray, channels: int) -> None:
    for i in range(len(line)):
        left = line[i - channels] if i >= channels else 0
        up, corner = before[i], before[i - channels] if i >= channels else 0
        if kind == 1:
            add = left
        elif kind == 2:
            add = up
        elif kind == 3:
            add = (left + up) // 2
        elif kind == 4:
            guess = left + up - corner
            near = ((abs(guess - left), 0, left), (abs(guess - up), 1, up))
            add = min(*near, (abs(guess - corner), 2, corner))[2]
        else:
            return
        line[i] = (line[i] + add) & 255

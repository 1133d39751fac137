"""From a path to lines of text: compression, encoding, and what is no text at all."""

from __future__ import annotations

import codecs
import gzip
import io
import re
import zlib
from dataclasses import dataclass, field
from pathlib import Path
from typing import BinaryIO

import numpy as np

from hayweather.errors import WeatherFileError

LARGEST_BYTES = 200 * 1024 * 1024
"""More uncompressed text than this is refused: 20 years of five-minute rows fit."""

LONGEST_LINE = 20_000
"""Letters of a line; a row of a thousand columns fits (assumed)."""
_GZIP_MAGIC = b"\x1f\x8b"
_MARKS = (
    (codecs.BOM_UTF8, "utf-8-sig"),
    (codecs.BOM_UTF16_LE, "utf-16"),
    (codecs.BOM_UTF16_BE, "utf-16"),
)
_CONTROL = bytes([*range(9), *range(0x0E, 0x1A), *range(0x1B, 0x20), 0x7F])


@dataclass(frozen=True)
class FileText:
    """A weather file as lines of text.

    Attributes
    ----------
    name
        File name, for people.
    lines
        Lines without their ends; line number = index + 1.
    encoding, compressed
        As found.
    written
        UTC time of the file's last change.
    """

    name: str
    lines: list[str]
    encoding: str
    compressed: bool
    written: np.datetime64
    faults: list[WeatherFileError] = field(default_factory=list, compare=False)
    blanked: list[WeatherFileError] = field(default_factory=list, compare=False)
    """Values for which the file is refused, and values taken as missing, a row each."""

    def refuse_faults(self) -> None:
        """Refuse the file where values are wrong: the first in one line, all as rows.

        Raises
        ------
        WeatherFileError
            If there are any.
        """
        if self.faults:
            rows = sorted(self.faults, key=lambda fault: int(str(fault.values.get("line", 0))))
            first = WeatherFileError(rows[0].key, self.name, **rows[0].values)
            first.rows = tuple(rows)
            raise first

    def error(self, key: str, line: int | None = None, **values: object) -> WeatherFileError:
        """The error `key` of this file, at a line when one is given."""
        if line is not None:
            values["line"] = line
        return WeatherFileError(key, self.name, **values)


def open_text(path: Path) -> FileText:
    """Read a text file, plain or gzip, in UTF-8, UTF-16 or Windows cp1252.

    Raises
    ------
    WeatherFileError
        If there is no such file, it cannot be read, is empty, too large,
        damaged, or no text.
    """
    written, data = _read_file(path)
    compressed = data[:2] == _GZIP_MAGIC
    if compressed:
        data = _unpack(path, data)
    if not data.strip():
        raise WeatherFileError("weather_file_empty", path.name)
    text, encoding = _decode(path, data)
    lines = text.replace("\r\n", "\n").replace("\r", "\n").split("\n")
    if max(map(len, lines)) > LONGEST_LINE:
        line = next(n for n, each in enumerate(lines, start=1) if len(each) > LONGEST_LINE)
        raise WeatherFileError("weather_line_long", path.name, line=line, limit=LONGEST_LINE)
    return FileText(path.name, lines, encoding, compressed, written)


def _read_file(path: Path) -> tuple[np.datetime64, bytes]:
    """Time of last change and all bytes, never more than the limit."""
    name = str(path)
    try:
        if path.is_dir():
            raise WeatherFileError("weather_file_directory", name)
        if not path.exists():
            raise WeatherFileError("weather_file_missing", name)
        if not path.is_file():
            raise WeatherFileError("weather_file_special", name)
        with path.open("rb") as stream:
            data = _read_limited(path, stream)
        return np.datetime64(int(path.stat().st_mtime), "s"), data
    except PermissionError as error:
        raise WeatherFileError("weather_file_unreadable", name) from error
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or str(error)
        raise WeatherFileError("weather_file_failed", name, reason=reason) from error


def _read_limited(path: Path, stream: BinaryIO | gzip.GzipFile) -> bytes:
    data = stream.read(LARGEST_BYTES + 1)
    if len(data) > LARGEST_BYTES:
        raise WeatherFileError("weather_file_huge", path.name, limit=LARGEST_BYTES // 1024**2)
    return data


def _unpack(path: Path, data: bytes) -> bytes:
    """Unpack gzip data, stopping at the limit however well it is packed."""
    try:
        with gzip.GzipFile(fileobj=io.BytesIO(data)) as stream:
            return _read_limited(path, stream)
    except (OSError, EOFError, zlib.error) as error:
        raise WeatherFileError("weather_gz_broken", path.name) from error


def _decode(path: Path, data: bytes) -> tuple[str, str]:
    """Text and name of its encoding."""
    encoding = _encoding_of(data)
    try:
        text = data.decode(encoding)
    except UnicodeDecodeError as error:
        raise WeatherFileError("weather_file_binary", path.name) from error
    text = _without_blank_records(text).removesuffix("\x1a")
    raw = text.encode("utf-8", "surrogatepass")
    if len(raw.translate(None, _CONTROL)) != len(raw):
        raise WeatherFileError("weather_file_binary", path.name)
    return text, encoding


def _encoding_of(data: bytes) -> str:
    """Name of the encoding: by its mark, by the pattern of zeros, else by trial."""
    for mark, name in _MARKS:
        if data.startswith(mark):
            return name
    head = data[:4000]
    if len(head) >= 4 and head.count(0) > len(head) // 3:
        odd = head[1::2].count(0)
        return "utf-16-le" if odd > head[::2].count(0) else "utf-16-be"
    if data.isascii():
        return "utf-8"
    try:
        data.decode("utf-8")
    except UnicodeDecodeError:
        return "cp1252"
    return "utf-8"


def _without_blank_records(text: str) -> str:
    """Lines of zeros alone are empty records of a station's store, no sign of binary."""
    if "\x00" not in text:
        return text
    return re.sub("^[\x00 ]+$", "", text, flags=re.MULTILINE)

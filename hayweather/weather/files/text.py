"""From a path to lines of text: compression, encoding, and what is no text at all."""

from __future__ import annotations

import codecs
import gzip
import io
import re
import zlib
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from functools import cached_property
from pathlib import Path
from typing import Any, BinaryIO, overload

import numpy as np
from numpy.typing import NDArray

from hayweather.errors import WeatherFileError

Letters = NDArray[np.uint8]
Places = NDArray[np.signedinteger[Any]]

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
_CHUNK = 1 << 20
BLOCK = 1 << 16
_HEAD_LINES = 100
_ANY = "surrogatepass"
"""Names of a table in a notebook may hold half a letter."""


def blocks_of(raw: bytes) -> Iterator[Letters]:
    """The bytes of a text in blocks that stay near the processor while they are looked at."""
    letters = np.frombuffer(raw, np.uint8)
    return (letters[begin : begin + BLOCK] for begin in range(0, letters.size, BLOCK))


class Lines(Sequence[str]):
    """Lines of a text, cut and decoded when they are asked for.

    Attributes
    ----------
    raw
        The text in UTF-8, lines ended by ``\\n`` alone.
    """

    def __init__(self, raw: bytes) -> None:
        self.raw = raw

    @classmethod
    def of(cls, lines: Sequence[str]) -> Lines:
        """Any lines; themselves where they are such already."""
        return lines if isinstance(lines, cls) else cls("\n".join(lines).encode("utf-8", _ANY))

    @cached_property
    def letters(self) -> Letters:
        """The bytes of the text."""
        return np.frombuffer(self.raw, np.uint8)

    @cached_property
    def _ends(self) -> Places:
        return np.append(np.flatnonzero(self.letters == ord("\n")), len(self.raw))

    @cached_property
    def _head(self) -> list[str]:
        """The first lines, which every layout looks at."""
        found: list[str] = []
        begin = 0
        while len(found) < _HEAD_LINES and begin <= len(self.raw):
            end = self.raw.find(b"\n", begin)
            end = len(self.raw) if end < 0 else end
            found.append(self.raw[begin:end].decode("utf-8", _ANY))
            begin = end + 1
        return found

    def place(self, line: int) -> int:
        """Where a line begins in the text; its end past the last."""
        if line < len(self._head):
            return sum(len(text.encode("utf-8", _ANY)) + 1 for text in self._head[:line])
        return min(int(self._ends[line - 1]) + 1, len(self.raw)) if line else 0

    def longest_within(self, most: int) -> int | None:
        """Index of the first line of more than so many letters; None where all are shorter."""
        begin = 0
        while len(self.raw) - begin > most:
            end = self.raw.rfind(b"\n", begin, begin + most + 1)
            if end < 0:  # of more bytes; of more letters it may not be
                end = self.raw.find(b"\n", begin)
                end = len(self.raw) if end < 0 else end
                if len(self.raw[begin:end].decode("utf-8", _ANY)) > most:
                    return self.raw.count(b"\n", 0, begin)
            begin = end + 1
        return None

    def __len__(self) -> int:
        return self._ends.size

    @overload
    def __getitem__(self, index: int) -> str: ...
    @overload
    def __getitem__(self, index: slice) -> list[str]: ...
    def __getitem__(self, index: int | slice) -> str | list[str]:
        if isinstance(index, slice):
            if len(self._head) < _HEAD_LINES:
                return self._head[index]
            begin, end = index.start or 0, index.stop
            if end is not None and 0 <= end <= _HEAD_LINES and begin >= 0:
                return self._head[index]
            first, last, step = index.indices(len(self))
            if step != 1:
                return [self[i] for i in range(first, last, step)]
            return self.text(first, last).split("\n") if first < last else []
        if 0 <= index < len(self._head):
            return self._head[index]
        index = range(len(self))[index]
        return self.text(index, index + 1)

    def text(self, first: int, last: int) -> str:
        """The lines ``first`` to ``last - 1`` as one text."""
        return self.raw[self.place(first) : int(self._ends[last - 1])].decode("utf-8", _ANY)

    def __iter__(self) -> Iterator[str]:
        yield from self._head
        if len(self._head) == _HEAD_LINES:
            yield from self[_HEAD_LINES:]


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
    lines: Sequence[str]
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
    if not data or data.isspace():
        raise WeatherFileError("weather_file_empty", path.name)
    raw, encoding = _decode(path, data)
    lines = Lines(raw)
    long = lines.longest_within(LONGEST_LINE)
    if long is not None:
        raise WeatherFileError("weather_line_long", path.name, line=long + 1, limit=LONGEST_LINE)
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
    """All bytes, in parts: one call for the limit would take memory of its size."""
    parts: list[bytes] = []
    while part := stream.read(_CHUNK):
        parts.append(part)
        if sum(map(len, parts)) > LARGEST_BYTES:
            raise WeatherFileError("weather_file_huge", path.name, limit=LARGEST_BYTES // 1024**2)
    return b"".join(parts)


def _unpack(path: Path, data: bytes) -> bytes:
    """Unpack gzip data, stopping at the limit however well it is packed."""
    try:
        with gzip.GzipFile(fileobj=io.BytesIO(data)) as stream:
            return _read_limited(path, stream)
    except (OSError, EOFError, zlib.error) as error:
        raise WeatherFileError("weather_gz_broken", path.name) from error


def _decode(path: Path, data: bytes) -> tuple[bytes, str]:
    """The text in UTF-8, its lines ended alike, and the name of its encoding."""
    encoding = _encoding_of(data)
    raw = data
    if not (encoding == "utf-8" and data.isascii()):
        try:
            raw = data.decode(encoding).encode("utf-8")
        except UnicodeDecodeError as error:
            raise WeatherFileError("weather_file_binary", path.name) from error
    raw = _without_blank_records(raw).removesuffix(b"\x1a")
    odd = b"\x7f" in raw or any(_has_control(block) for block in blocks_of(raw))
    if odd and len(raw.translate(None, _CONTROL)) != len(raw):
        raise WeatherFileError("weather_file_binary", path.name)
    if b"\r" in raw:
        raw = raw.replace(b"\r\n", b"\n").replace(b"\r", b"\n")
    return raw, encoding


def _has_control(letters: Letters) -> bool:
    """Whether there is any letter below a blank that is no blank itself."""
    blanks = letters - np.uint8(ord("\t")) <= ord("\r") - ord("\t")
    return bool(np.count_nonzero(letters < ord(" ")) > np.count_nonzero(blanks))


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


def _without_blank_records(raw: bytes) -> bytes:
    """Lines of zeros alone are empty records of a station's store, no sign of binary."""
    if b"\x00" not in raw:
        return raw
    return re.sub(rb"^[\x00 ]+$", b"", raw, flags=re.MULTILINE)

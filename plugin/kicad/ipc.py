"""Asking the KiCad that pressed the button which drawings it has open: one question over its own socket.

The transport is that of KiCad's API server: the "SP" request/reply protocol over a local socket (a 64-bit length
before each message, a 32-bit request id before each body), with protocol-buffer messages of which only the few
fields needed are written and read here. A client library would be a large dependency for one question.
"""

from __future__ import annotations

import os
import socket
import struct
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Protocol

TIMEOUT_S = 5.0
_REQUEST, _REPLY = 0x30, 0x31
_SCHEMATIC = 1
_GET = "type.googleapis.com/kiapi.common.commands.GetOpenDocuments"
_LARGEST = 1 << 20


class NoAnswerError(Exception):
    """KiCad could not be asked, or gave no answer that can be used; ``str()`` says why."""


@dataclass(frozen=True, slots=True)
class OpenDocument:
    """A document that KiCad has open: its file's name, its project's name and folder, as far as told."""

    file: str
    project: str
    folder: str


class _Stream(Protocol):
    def sendall(self, data: bytes, /) -> object: ...

    def recv(self, size: int, /) -> bytes: ...

    def close(self) -> None: ...


class _Pipe:
    """A Windows pipe with the few methods of a socket that are used."""

    def __init__(self, path: str) -> None:
        self._file = open(path, "r+b", buffering=0)  # noqa: PTH123, SIM115 - a pipe's name is no path

    def sendall(self, data: bytes, /) -> object:
        return self._file.write(data)

    def recv(self, size: int, /) -> bytes:
        return self._file.read(size) or b""

    def close(self) -> None:
        self._file.close()


def open_schematics(env: Mapping[str, str]) -> tuple[OpenDocument, ...]:
    """The schematics that the KiCad which started this program has open.

    ``env`` holds ``KICAD_API_SOCKET`` and ``KICAD_API_TOKEN``, as KiCad hands them to a plugin.

    Raises:
        NoAnswerError: there is no such KiCad, or it does not answer within 5 s.
    """
    address = env.get("KICAD_API_SOCKET", "")
    if not address.startswith("ipc://"):
        raise NoAnswerError("KiCad named no socket")
    request = _field(1, _text(1, env.get("KICAD_API_TOKEN", "")) + _text(2, "loadloom"))
    request += _field(2, _text(1, _GET) + _field(2, _number(1, _SCHEMATIC)))
    try:
        stream = _connected(address.removeprefix("ipc://"))
        try:
            return _documents(_asked(stream, request))
        finally:
            stream.close()
    except (OSError, ValueError, IndexError, struct.error) as error:
        raise NoAnswerError(f"KiCad did not answer: {error}") from error


def _connected(path: str) -> _Stream:
    if os.name == "nt":
        return _Pipe(rf"\\.\pipe\{path}")
    stream = socket.socket(socket.AF_UNIX, socket.SOCK_STREAM)
    stream.settimeout(TIMEOUT_S)
    stream.connect(path)
    return stream


def _asked(stream: _Stream, request: bytes) -> bytes:
    stream.sendall(b"\0SP\0" + struct.pack(">HH", _REQUEST, 0))
    greeting = _exactly(stream, 8)
    if greeting[:4] != b"\0SP\0" or struct.unpack(">H", greeting[4:6])[0] != _REPLY:
        raise ValueError("what listens there is not KiCad")
    body = struct.pack(">I", 0x80000001) + request
    stream.sendall(b"\x01" + struct.pack(">Q", len(body)) + body)
    kind, length = struct.unpack(">BQ", _exactly(stream, 9))
    if kind != 1 or not 4 <= length <= _LARGEST:
        raise ValueError("its answer is of another kind")
    return _exactly(stream, length)[4:]


def _exactly(stream: _Stream, count: int) -> bytes:
    found = b""
    while len(found) < count:
        more = stream.recv(count - len(found))
        if not more:
            raise ValueError("it ended the conversation")
        found += more
    return found


def _documents(response: bytes) -> tuple[OpenDocument, ...]:
    parts = dict(_fields(response))
    status = dict(_fields(_bytes(parts, 2)))
    if status.get(1) != 1:
        message = status.get(2, b"")
        raise ValueError(
            message.decode("utf-8", "replace") if isinstance(message, bytes) and message else "refused"
        )
    answer = dict(_fields(_bytes(parts, 3)))
    found = []
    for number, content in _fields(_bytes(answer, 2)):
        if number != 1 or not isinstance(content, bytes):
            continue
        document = dict(_fields(content))
        project = dict(_fields(_bytes(document, 5)))
        # The file's name stands in the field for boards; KiCad 9 and 10 use it for schematics as well.
        name = _bytes(document, 3) or _bytes(document, 4)
        found.append(
            OpenDocument(
                name.decode("utf-8", "replace"),
                _bytes(project, 1).decode("utf-8", "replace"),
                _bytes(project, 2).decode("utf-8", "replace"),
            )
        )
    return tuple(found)


def _bytes(fields: Mapping[int, bytes | int], number: int) -> bytes:
    value = fields.get(number, b"")
    return value if isinstance(value, bytes) else b""


def _fields(message: bytes) -> Iterator[tuple[int, bytes | int]]:
    """Numbers and contents of a protocol-buffer message's fields."""
    at = 0
    while at < len(message):
        key, at = _varint(message, at)
        number, kind = key >> 3, key & 7
        if kind == 0:
            value, at = _varint(message, at)
            yield number, value
        elif kind == 2:
            length, at = _varint(message, at)
            if at + length > len(message):
                raise ValueError("its answer is cut off")
            yield number, message[at : at + length]
            at += length
        elif kind in (1, 5):
            at += 8 if kind == 1 else 4
        else:
            raise ValueError("its answer can't be read")


def _varint(message: bytes, at: int) -> tuple[int, int]:
    value = shift = 0
    while True:
        byte = message[at]
        at += 1
        value |= (byte & 0x7F) << shift
        shift += 7
        if not byte & 0x80:
            return value, at
        if shift > 63:
            raise ValueError("its answer can't be read")


def _length(value: int) -> bytes:
    out = b""
    while value > 0x7F:
        out += bytes([value & 0x7F | 0x80])
        value >>= 7
    return out + bytes([value])


def _field(number: int, content: bytes) -> bytes:
    return bytes([number << 3 | 2]) + _length(len(content)) + content


def _text(number: int, text: str) -> bytes:
    return _field(number, text.encode("utf-8"))


def _number(number: int, value: int) -> bytes:
    return bytes([number << 3]) + _length(value)

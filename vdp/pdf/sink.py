"""A file that is written from front to back, and what is said when that fails."""

from __future__ import annotations

import errno
import os
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from types import TracebackType

from vdp.errors import CallerError

#: Bytes gathered before they are written.
_GATHERED = 1 << 20
#: Why a kernel may not copy between two files by itself; copying through memory then still works.
_CANNOT_COPY = frozenset({errno.EXDEV, errno.ENOSYS, errno.EINVAL, errno.EOPNOTSUPP, errno.EBADF, errno.EPERM})


class Sink:
    """Writes to `path`; messages name `shown`.  `position` counts what was written, flushed or not."""

    def __init__(self, path: Path, shown: Path) -> None:
        self.path = path
        self._shown = shown
        self.position = 0
        self._gathered: list[bytes] = []
        self._waiting = 0
        with self._named():
            self._file = path.open("wb", buffering=0)

    @contextmanager
    def _named(self) -> Iterator[None]:
        try:
            yield
        except OSError as error:
            raise CallerError.one(
                str(self._shown), f"cannot be written: {error.strerror or error}", "free some space or write elsewhere"
            ) from error

    def write(self, data: bytes) -> None:
        self._gathered.append(data)
        self._waiting += len(data)
        self.position += len(data)
        if self._waiting >= _GATHERED:
            self.flush()

    def flush(self) -> None:
        left = memoryview(b"".join(self._gathered))
        self._gathered, self._waiting = [], 0
        with self._named():
            while left:
                left = left[self._file.write(left) :]

    def copy(self, path: Path, size: int) -> None:
        """Appends the first `size` bytes of a file, inside the kernel where it can."""
        self.flush()
        with self._named(), path.open("rb", buffering=0) as source:
            left = size - self._copy_in_kernel(source.fileno(), size)
            while left:
                data = source.read(min(left, _GATHERED))
                if not data:
                    raise OSError(errno.EIO, f"{path.name} is shorter than it was")
                rest = memoryview(data)
                while rest:
                    rest = rest[self._file.write(rest) :]
                left -= len(data)
        self.position += size

    def _copy_in_kernel(self, source: int, size: int) -> int:
        """Bytes copied before the kernel had enough of it."""
        done = 0
        while done < size:
            try:
                count = os.copy_file_range(source, self._file.fileno(), size - done)
            except OSError as error:
                if error.errno in _CANNOT_COPY:
                    break
                raise
            if not count:
                break
            done += count
        return done

    def close(self, *, lasting: bool = False) -> None:
        """Flushes and closes; `lasting` waits until the bytes are on the disk."""
        self.flush()
        with self._named():
            if lasting:
                os.fsync(self._file.fileno())
            self._file.close()

    def discard(self) -> None:
        """Closes and removes the file, whatever state it is in."""
        self._gathered, self._waiting = [], 0
        self._file.close()
        if self.path.is_file():
            self.path.unlink()

    def __enter__(self) -> Sink:
        return self

    def __exit__(self, kind: type[BaseException] | None, error: BaseException | None, tb: TracebackType | None) -> None:
        if not self._file.closed:
            self.discard()

"""Files that are written whole or not at all, and lines that are on the disk before anything else happens."""

from __future__ import annotations

import contextlib
import errno
import os
from collections.abc import Iterator
from pathlib import Path

from diagnose.errors import FileError, Problem, UsageError

_NO_LINKS = (errno.EPERM, errno.EOPNOTSUPP, errno.ENOSYS, errno.EMLINK, errno.EXDEV, errno.EACCES)
_LONGEST_STEM = 40  # of a name beside: some characters take four bytes, and a name has 255


def given_path(name: str) -> Path:
    """A path as a person gives it, `~` for the home folder.

    Raises UsageError where there is no such home, or no name at all.
    """
    if not name:
        raise UsageError(Problem("an empty text is no path", "a file or a folder"))
    try:
        return Path(name).expanduser()
    except RuntimeError as error:
        raise UsageError(Problem(f"{name}: there is no such home folder", "a path without '~'")) from error


def replace_file(path: Path, text: str, *, make_folder: bool = False) -> None:
    """Put a file in place: beside it first, on the disk, then in its place, so that it is never half there.

    Raises FileError where that can't be done; what was there stays.
    """
    try:
        if make_folder:
            path.parent.mkdir(parents=True, exist_ok=True)
        beside = _beside(path, text)
        try:
            os.replace(beside, path)  # noqa: PTH105 (tests put their own `os` in place)
        except OSError:
            _gone(beside)
            raise
        sync_folder(path.parent)
    except OSError as error:
        raise FileError(Problem(f"{path}: can't be written: {error.strerror}", "a place to write to")) from error


def new_file(path: Path, text: str | bytes) -> None:
    """Put a file where there is none: whole or not at all, on the disk, and never over one that is there.

    Raises FileExistsError where one is there, and OSError where it can't be written.
    """
    beside = _beside(path, text)
    try:
        os.link(beside, path)
    except OSError as error:
        if error.errno not in _NO_LINKS:
            raise
        _only_here(path, text)  # a file system without links: not whole at once, but never over another
    finally:
        _gone(beside)
    sync_folder(path.parent)


def add_line(path: Path, text: str, same_as: int | None = None) -> None:
    """Put a text at the end of a file that is there, on the disk when this returns; else nothing of it stays.

    Raises OSError where that can't be done, and FileNotFoundError where the file is gone, or is not the one that is
    open under the number `same_as`: a file that vanished is never begun anew.
    """
    with contextlib.closing(_Descriptor(os.open(path, os.O_WRONLY | os.O_APPEND | _PLAIN))) as file:
        if same_as is not None and not os.path.samestat(os.fstat(file.number), os.fstat(same_as)):
            raise FileNotFoundError(errno.ENOENT, "another file is there now")
        before = os.fstat(file.number).st_size
        try:
            _write_all(file.number, text)
        except OSError:
            with contextlib.suppress(OSError):
                os.ftruncate(file.number, before)
            raise


def cut_file(path: Path, size: int) -> None:
    """Cut a file off, on the disk when this returns. Raises OSError."""
    with contextlib.closing(_Descriptor(os.open(path, os.O_WRONLY | _PLAIN))) as file:
        os.ftruncate(file.number, size)
        os.fsync(file.number)


def sync_folder(folder: Path) -> None:
    """What was put into a folder stays there if the power fails now. Where the system can't say so, nothing is done."""
    with contextlib.suppress(OSError), contextlib.closing(_Descriptor(os.open(folder, os.O_RDONLY))) as opened:
        os.fsync(opened.number)


_PLAIN = getattr(os, "O_BINARY", 0) | getattr(os, "O_CLOEXEC", 0)


@contextlib.contextmanager
def alone(path: Path) -> Iterator[None]:
    """Keep other processes from reading and writing a file anew in the meantime, so that no change of theirs is lost.

    They wait for this one. Where the system or the folder has no such locks nobody waits.
    """
    try:
        import fcntl  # not everywhere

        path.parent.mkdir(parents=True, exist_ok=True)
        lock = os.open(path.parent / f".{path.name[:_LONGEST_STEM]}.lock", os.O_RDWR | os.O_CREAT | _PLAIN, 0o666)
        fcntl.flock(lock, fcntl.LOCK_EX)
    except (ImportError, OSError):
        yield
        return
    try:
        yield
    finally:
        os.close(lock)


class _Descriptor:
    """A number of an open file, that can be closed."""

    def __init__(self, number: int) -> None:
        self.number = number

    def close(self) -> None:
        os.close(self.number)


def _beside(path: Path, text: str | bytes) -> Path:
    """The text in a file of this process's own beside the place where it will be, on the disk."""
    beside = path.parent / f".{path.name[:_LONGEST_STEM]}.{os.getpid()}.new"
    _gone(beside)  # left by one that was killed and had the same number
    _only_here(beside, text)
    return beside


def _only_here(path: Path, text: str | bytes) -> None:
    """Write a file that is not there yet; one that can't be written whole is taken away again."""
    with contextlib.closing(_Descriptor(os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL | _PLAIN, 0o666))) as file:
        try:
            _write_all(file.number, text)
        except OSError:
            _gone(path)
            raise


def _write_all(number: int, text: str | bytes) -> None:
    left = text.encode("utf-8", "replace") if isinstance(text, str) else text
    while left:
        left = left[os.write(number, left) :]
    os.fsync(number)


def _gone(path: Path) -> None:
    with contextlib.suppress(OSError):
        path.unlink(missing_ok=True)

"""What a computer runs out of: how it shows, what it is in plain words, and the way out.

Only this module decides whether an error, or what a crashed process printed, comes from too little
memory, disk space, open files or processes. None of these is the fault of a form or a soundfont.
"""

from __future__ import annotations

import errno
from contextlib import ExitStack
from mmap import mmap
from threading import Event, Thread
from types import MappingProxyType
from typing import NamedTuple

try:  # here, since there may be no memory to load it when it is needed
    import resource
except ImportError:  # Windows has no such limits
    resource = None  # type: ignore[assignment]


class Shortage(NamedTuple):
    """A clause that says what is short, and what to do about it, as a sentence without a period.

    `of_disk`: another disk would help. `limit` is the name in `resource` of a limit that can cause
    it, and `option` the option of the shell's `ulimit` that sets the limit.
    """

    reason: str
    way_out: str
    of_disk: bool = False
    limit: str = ""
    option: str = ""

    @property
    def advice(self) -> str:
        """The way out as a sentence, with the limit if one is set."""
        limit = f", or raise the limit (ulimit {self.option})" if self._is_limited() else ""
        return f"{self.way_out}{limit}."

    def _is_limited(self) -> bool:
        if resource is None or not self.limit:
            return False
        return resource.getrlimit(getattr(resource, self.limit))[0] != resource.RLIM_INFINITY


_CLOSE, _ELSEWHERE = "Close other programs", "Free some space, or choose a folder on another disk"
MEMORY = Shortage("there is not enough memory", _CLOSE, False, "RLIMIT_AS", "-v")
#: What the system does to a process when the whole machine is out of memory.
KILLED = MEMORY._replace(
    reason="the system ended the process (signal 9), most likely because there is not enough memory"
)
FILES = Shortage("too many files are open", _CLOSE, False, "RLIMIT_NOFILE", "-n")
PROCESSES = Shortage("no more processes can be started", _CLOSE, False, "RLIMIT_NPROC", "-u")
#: A thread counts as a process, but also needs memory: `_cause` finds out which one it is.
_THREADS = PROCESSES._replace(reason="no more threads can be started")
DISK = Shortage("the disk is full", _ELSEWHERE, True)
SHARE = Shortage("your share of the disk is full", _ELSEWHERE, True)
TOO_LARGE = Shortage(
    "the file is too large for this disk",
    "Choose a folder on another disk",
    True,
    "RLIMIT_FSIZE",
    "-f",
)
READ_ONLY = Shortage("this disk is read-only", "Choose a folder on another disk", True)
FAULTY = Shortage(
    "the disk reports an error", "Try again, or choose a folder on another disk", True
)

_BY_ERRNO = {
    errno.ENOMEM: MEMORY,
    errno.EMFILE: FILES,
    errno.ENFILE: FILES,
    errno.EAGAIN: PROCESSES,
    errno.ENOSPC: DISK,
    errno.EFBIG: TOO_LARGE,
    errno.EROFS: READ_ONLY,
    errno.EIO: FAULTY,
}
if hasattr(errno, "EDQUOT"):  # not on Windows
    _BY_ERRNO[errno.EDQUOT] = SHARE
BY_ERRNO = MappingProxyType(_BY_ERRNO)

#: Parts of what Python, the C library, libstdc++, Rust, OpenBLAS and FluidSynth print, in lower
#: case (seen under limits of memory, files and processes).
BY_TEXT = MappingProxyType(
    {
        "memoryerror": MEMORY,
        "bad_alloc": MEMORY,
        "out of memory": MEMORY,
        "not enough memory": MEMORY,
        "cannot allocate memory": MEMORY,
        "memory allocation": MEMORY,
        "failed to map segment": MEMORY,
        "cannot create shared object descriptor": MEMORY,
        "cannot map zero-fill pages": MEMORY,
        "cannot allocate": MEMORY,
        "failed to allocate": MEMORY,
        "init_sys_streams": MEMORY,
        "too many open files": FILES,
        "can't start new thread": _THREADS,
        "blas_thread_init": _THREADS,
        "failed to create thread": _THREADS,
        "failed to spawn thread": _THREADS,
        "threadpoolbuilderror": _THREADS,
        "resource temporarily unavailable": PROCESSES,
        "no space left on device": DISK,
    }
)

#: Errors that can hide a shortage behind another text, for example while a library is loaded.
_VAGUE = (ImportError, SystemError, AttributeError)
#: Less free memory than this, in bytes, is too little for any library that is loaded here.
LITTLE_BYTES = 64 << 20
#: With less than this, in bytes, no command starts: Python's own libraries fail in strange ways.
LEAST_BYTES = 16 << 20
#: What numpy and the libraries that need it take; with too little, it ends the process.
NUMPY_BYTES = 144 << 20
_LEAST_FILES, _LEAST_THREADS = 8, 3


def in_temporary_folder(found: Shortage) -> Shortage:
    """The same shortage; one of a disk names the folder for temporary files."""
    if not found.of_disk:
        return found
    return found._replace(
        reason=f"{found.reason} (the one with the folder for temporary files)",
        way_out="Free some space there, or set the variable TMPDIR to a folder on another disk",
    )


def shortage_of(error: BaseException) -> Shortage | None:
    """The shortage that an error, or one of those that led to it, comes from, if any."""
    seen: set[int] = set()
    one: BaseException | None = error
    while one is not None and id(one) not in seen:
        seen.add(id(one))
        if found := _shortage_of_one(one):
            return found
        one = one.__cause__ or one.__context__
    if isinstance(error, _VAGUE) or (isinstance(error, OSError) and error.errno is None):
        return shortage_now()
    # Where memory ends in the middle of an import, Python raises all kinds of its own errors.
    if type(error).__module__ == "builtins" and not isinstance(error, OSError):
        return None if has_memory(LITTLE_BYTES) else MEMORY
    return None


def _shortage_of_one(error: BaseException) -> Shortage | None:
    if isinstance(error, MemoryError):
        return MEMORY
    if isinstance(error, OSError) and error.errno is not None:
        return BY_ERRNO.get(error.errno)
    if isinstance(error, (OSError, RuntimeError, *_VAGUE)) or _is_panic(error):
        return shortage_in(str(error))
    return None


def _is_panic(error: BaseException) -> bool:
    """Whether a library in Rust gave up: its kind of error has no module to import it from."""
    return type(error).__name__ == "PanicException"


def shortage_in(printed: str) -> Shortage | None:
    """The shortage that a program's messages tell of, if any."""
    printed = printed.casefold()
    return next((_cause(found) for text, found in BY_TEXT.items() if text in printed), None)


def _cause(found: Shortage) -> Shortage:
    """A thread that can't be started most likely lacks memory, where memory is limited."""
    if found not in (_THREADS, PROCESSES):
        return found
    return MEMORY if MEMORY._is_limited() or not has_memory(LITTLE_BYTES) else found


def shortage_now() -> Shortage | None:
    """What this process can get too little of at this moment to load a library, if anything."""
    if not has_memory(LITTLE_BYTES):
        return MEMORY
    try:
        with ExitStack() as stack:
            for _ in range(_LEAST_FILES):
                stack.enter_context(open(__file__, "rb"))
    except OSError as error:
        return _shortage_of_one(error)
    try:
        need_threads(_LEAST_THREADS)
    except (RuntimeError, MemoryError) as error:
        return _shortage_of_one(error)
    return None


def has_memory(size: int) -> bool:
    """Whether the system would give this process so many bytes of memory at once."""
    try:
        mmap(-1, size).close()
    except (OSError, MemoryError, ValueError, OverflowError):
        return False
    return True


def need_memory(size: int) -> None:
    """Raise MemoryError unless there are so many bytes of memory.

    For libraries that end the process, without cleaning up, if they can't get memory.
    """
    if not has_memory(size):
        raise MemoryError


def need_threads(count: int) -> None:
    """Raise RuntimeError or MemoryError unless so many more threads can run at once.

    For libraries that print a long report if they can't start one.
    """

    done = Event()
    try:
        for _ in range(count):
            Thread(target=done.wait, daemon=True).start()
    finally:
        done.set()

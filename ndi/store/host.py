"""What depends on the operating system: network drives, private files, durable renames."""

from __future__ import annotations

import os
import re
import sys
from pathlib import Path

from ndi.domain.errors import StoreError

# file systems whose locks or shared memory cannot be relied upon between machines
NETWORK_FILE_SYSTEMS = frozenset(
    {
        *("nfs", "nfs4", "cifs", "smb", "smb2", "smb3", "smbfs", "sshfs", "fuse.sshfs", "9p", "afs", "ncpfs"),
        *("davfs", "fuse.davfs2", "fuse.rclone", "ceph", "fuse.ceph", "glusterfs", "fuse.glusterfs", "lustre"),
        *("beegfs", "gfs2", "ocfs2", "vboxsf", "fuse.vmhgfs-fuse", "prl_fs"),
    }
)


def _unescaped(field: str) -> str:
    return re.sub(r"\\([0-7]{3})", lambda match: chr(int(match[1], 8)), field)


def _mount_table() -> str:
    for name in ("/proc/self/mounts", "/proc/mounts"):
        try:
            return Path(name).read_text(encoding="utf-8", errors="surrogateescape")
        except OSError:
            continue
    return ""


def network_file_system(path: Path, mounts: str | None = None) -> str | None:
    """The type of the network file system that ``path`` lies on, or None.

    ``mounts`` stands in for the machine's mount table.  Where a machine has no
    such table (and is not Windows) nothing is known and None is returned.
    """
    full = path.absolute() if mounts is not None else path.resolve()
    if sys.platform == "win32" and mounts is None:
        return _windows_network_drive(full)
    found, length = None, -1
    for line in (_mount_table() if mounts is None else mounts).splitlines():
        fields = line.split(" ")
        if len(fields) < 3:
            continue
        point = Path(_unescaped(fields[1]))
        depth = len(point.parts)
        if depth >= length and (full == point or point in full.parents):  # a later mount covers an earlier one
            found, length = fields[2], depth
    return found if found in NETWORK_FILE_SYSTEMS else None


def _windows_network_drive(full: Path) -> str | None:
    if sys.platform == "win32":
        import ctypes

        if full.drive.startswith("\\\\"):
            return "network share"
        if ctypes.windll.kernel32.GetDriveTypeW(full.anchor) == 4:  # DRIVE_REMOTE
            return "network drive"
    return None


def refuse_network_drive(path: Path, mounts: str | None = None) -> None:
    """StoreError if a book at ``path`` would lie on a network drive."""
    kind = network_file_system(path, mounts)
    if kind is not None:
        raise StoreError(
            f"{path} lies on a network drive ({kind}): two machines cannot lock a file there reliably and entries could be "
            "lost. Put the record book on a disk of this machine, or use a database server for several machines."
        )


def write_private(path: Path, text: str) -> None:
    """Write a file that only its owner can read (mode 0600), durably; StoreError if it exists."""
    path.parent.mkdir(parents=True, exist_ok=True, mode=0o700)
    try:
        handle = os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
    except FileExistsError:
        raise StoreError(f"{path} exists already: move it away first, a key is never overwritten") from None
    with os.fdopen(handle, "w", encoding="utf-8") as file:
        file.write(text)
        file.flush()
        os.fsync(file.fileno())
    flush_folder(path.parent)


def flush_folder(folder: Path) -> None:
    """Make the names in a folder durable (where the system can)."""
    if sys.platform == "win32":
        return
    handle = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)


def publish(finished: Path, path: Path) -> None:
    """Give a finished file its name, durably; StoreError if the name is taken."""
    try:
        os.link(finished, path)
    except FileExistsError:
        raise StoreError(f"{path} exists already: choose another name for the new record book") from None
    except OSError:  # a file system without hard links
        os.rename(finished, path)
    else:
        finished.unlink()
    flush_folder(path.parent)

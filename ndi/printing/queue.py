"""Sends a finished paper to a print queue of the system."""

from __future__ import annotations

import hashlib
from dataclasses import replace
from pathlib import Path

from ndi.domain.errors import InputError
from ndi.printing import host_queue
from ndi.services.ports import QueueAnswer


class SystemPrinter:
    """The queues of this machine."""

    def send(self, file: Path, queue: str) -> QueueAnswer:
        """Hand a file to a queue; InputError if there is no such file or the name cannot be a queue's."""
        if not file.is_file():
            raise InputError(f"there is no file {file}: name the paper to print")
        if not queue or queue.startswith("-") or not queue.isprintable() or any(char in queue for char in ' "#/'):
            raise InputError(f"{queue!r} cannot be the name of a print queue: type it as `lpstat -e` lists it")
        digest = hashlib.sha256(file.read_bytes()).hexdigest()
        return replace(host_queue.send(file.resolve(), queue, file.name), sha256=digest)

    def queues(self) -> list[str]:
        """The names of the queues that the system knows."""
        return host_queue.queues()

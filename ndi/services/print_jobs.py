"""Papers on their way to a printer: sent through a port, the system's answer kept in the book."""

from __future__ import annotations

from pathlib import Path

from ndi.domain import facts as f
from ndi.domain.entry import Draft, Obtained, Recorded
from ndi.services.ports import Printer, QueueAnswer
from ndi.services.workplace import Workplace


def print_paper(
    work: Workplace, printer: Printer, file: Path, queue: str, by: str
) -> tuple[QueueAnswer, Recorded[f.Fact]]:
    """Send a file to a queue and keep what was answered: queued, refused or unknown."""
    answer = printer.send(file, queue)
    with work.transaction() as session:
        fact = f.PrintJob(queue, file.name, answer.sha256, str(answer.state), answer.job, answer.detail or None)
        (recorded,) = session.append([Draft(fact, work.now(), by, Obtained.COMPUTED)])
    return answer, recorded

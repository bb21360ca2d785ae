"""Where pictures come from at a station: the folder of its camera, and a live camera where one is named."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from ndi import bootstrap
from ndi.gui.presenters.booth.outside import PhotoFile


class Inbox:
    """The folder where the station's camera leaves its files; only whole ones are listed."""

    def __init__(self, folder: Path) -> None:
        self._watched = bootstrap.watched_folder(folder)

    def files(self) -> Sequence[PhotoFile]:
        """Pictures in it, newest first; empty when the folder is not there."""
        return [PhotoFile(str(file.path), file.name, file.changed, file.size) for file in self._watched.files()]

    def arriving(self) -> int:
        """How many were still being written when the files were last listed."""
        return self._watched.arriving


class Live:
    """A live camera whose taken frames are put into the folder of the station's camera, whole and durable."""

    def __init__(self, source: str, station: str, folder: Path, clock: bootstrap.SystemClock) -> None:
        self.source, self._folder = source, folder
        self._camera = bootstrap.live_camera(source, station, clock)

    def look(self) -> bytes:
        """The frame of this moment, small."""
        return self._camera.preview()

    def take(self) -> PhotoFile:
        """One frame as a file of the folder."""
        content, at = self._camera.take()
        path = bootstrap.keep_frame(self._folder, content, at)
        return PhotoFile(str(path), path.name, at, len(content))

    def close(self) -> None:
        self._camera.close()

"""The doors beside the page, on the real house."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime
from hashlib import sha256
from typing import Any

from mixclock.board.house import Photo, RefusedError, TapAnswer
from mixclock.job.entry import TOLD_BY_MACHINE
from mixclock.job.mistakes import Mistakes
from mixclock.job.saying import CannotTellError
from mixclock.job.statements import PhotoStatement
from mixclock.outside.bookdrawers import Picture
from mixclock.outside.bookerrors import BookError
from mixclock.wiring import House
from mixclock.words.saidback import said_back


class JoinedDoors:
    """Calendar, sensors and photos of one job, else of the job in use."""

    def __init__(self, house: House, job: str | None = None) -> None:
        self._house, self._job = house, job

    def calendar(self, now: datetime) -> bytes | None:
        """The dates of the job in use; None where there is none."""
        from mixclock.words.calendar import calendar_text

        job = self._house.book.current_job()
        if job is None:
            return None
        standing = self._house.standing(job, skip=TOLD_BY_MACHINE)
        return calendar_text(standing, self._house.tracks(standing), now)

    def take_reading(self, told: Mapping[str, Any], now: datetime) -> Mapping[str, Any]:
        """Put a sensor's reading into the log of the job in use."""
        from mixclock.job.sensorreading import read_sensor
        from mixclock.outside.sensors import take_sensor

        try:
            reading = read_sensor(told)
            taken = take_sensor(self._house.book, self._house.job(), reading, now)
        except Mistakes as mistakes:
            raise RefusedError("; ".join(str(line) for line in mistakes.lines("reading"))) from mistakes
        except (CannotTellError, BookError) as refused:
            raise RefusedError(str(refused)) from refused
        return {"sensor": reading.sensor, "entry": taken.entry, "held_back": taken.held_back}

    def take_photo(self, photo: Photo, at: datetime, by: str | None) -> TapAnswer:
        """Enter the picture in the log, and keep its small copy with it."""
        from mixclock.outside.pictures import media_of

        media = media_of(photo.small) or ""
        statement = PhotoStatement(photo.name, sha256=photo.sha256, area=photo.area, batch=photo.batch)
        picture = Picture(photo.sha256, media, photo.small, sha256(photo.small).hexdigest())
        try:
            stated = self._house.state(statement, at=at, by=by, job=self._job, beside=[picture])
        except (CannotTellError, BookError) as refused:
            raise RefusedError(str(refused)) from refused
        said = said_back(stated.entry, stated.standing, self._house.clock.now())
        return TapAnswer(stated.entry.number, said, photo.batch)

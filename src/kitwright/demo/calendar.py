"""The demo's clock: every moment is so many days before the day on which the demo is made."""

from __future__ import annotations

import datetime
from dataclasses import dataclass

from kitwright.books.entries import Entry


@dataclass(frozen=True)
class Calendar:
    """Moments counted back from `today`."""

    today: datetime.date

    def day(self, days_ago: int) -> datetime.date:
        """The day so many days ago; a negative number lies ahead."""
        return self.today - datetime.timedelta(days=days_ago)

    def at(self, days_ago: int, hour: float = 9.0) -> datetime.datetime:
        """That day at an hour, UTC."""
        start = datetime.datetime.combine(self.day(days_ago), datetime.time(), datetime.UTC)
        return start + datetime.timedelta(hours=hour)

    def by(self, who: str, days_ago: int, hour: float = 9.0) -> Entry:
        """An entry by this person, written down at once."""
        return Entry(who=who, recorded=self.at(days_ago, hour))

"""Reads the calendar of standard input with icalendar; prints each event as JSON."""

import json
import sys

from icalendar import Calendar

calendar = Calendar.from_ical(sys.stdin.buffer.read())
assert not calendar.errors, calendar.errors
for event in calendar.walk("VEVENT"):
    assert not event.errors, event.errors
    print(
        json.dumps(
            {
                "uid": str(event["UID"]),
                "at": event.decoded("DTSTART").strftime("%Y-%m-%dT%H:%M:%SZ"),
                "summary": str(event["SUMMARY"]),
                "description": str(event["DESCRIPTION"]),
            }
        )
    )

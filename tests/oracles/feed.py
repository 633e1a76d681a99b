"""Reads a folder of feeds as other people's programs do: JSON by jsonschema, CSV by the csv module, calendars by
icalendar. Prints what they read as JSON, for a test to compare with what was meant.

    feed.py FOLDER     holds feed.schema.json, feed.json, feed-csv.json, feed.csv and any number of *.ics
"""

import csv
import json
import sys
from pathlib import Path

import icalendar
import jsonschema


def moment(value):
    return value.isoformat()


def calendar(path):
    data = path.read_bytes()
    parsed = icalendar.Calendar.from_ical(data)
    events = [
        {
            "uid": str(event["UID"]),
            "sequence": int(event["SEQUENCE"]),
            "stamp": moment(event["DTSTAMP"].dt),
            "summary": str(event["SUMMARY"]),
            "description": str(event["DESCRIPTION"]),
            "place": str(event.get("LOCATION", "")),
            "from": moment(event["DTSTART"].dt),
            "to": moment(event["DTEND"].dt),
            "status": str(event["STATUS"]),
        }
        for event in parsed.walk("VEVENT")
    ]
    errors = [str(error) for part in parsed.walk() for error in part.errors]
    lines = data.split(b"\r\n")
    return {
        "name": str(parsed["NAME"]),
        "version": str(parsed["VERSION"]),
        "missing": [name for name in icalendar.Calendar.required if name not in parsed],
        "errors": errors,
        "events": events,
        # RFC 5545, 3.1: lines end with CR LF and hold 75 octets or fewer.
        "longest_octets": max(map(len, lines)),
        "bare_line_feeds": sum(line.count(b"\n") for line in lines),
        # What is read and written again says the same.
        "same_again": icalendar.Calendar.from_ical(parsed.to_ical()) == parsed,
    }


def main():
    folder = Path(sys.argv[1])
    schema = json.loads((folder / "feed.schema.json").read_text("utf-8"))
    feed = json.loads((folder / "feed.json").read_text("utf-8"))
    jsonschema.Draft202012Validator.check_schema(schema)
    checker = jsonschema.Draft202012Validator(schema)
    spoilt = json.loads(json.dumps(feed))
    for part in spoilt["parts"]:
        part["cumulative_h"] = "many"
    with open(folder / "feed.csv", newline="", encoding="utf-8") as file:
        rows = list(csv.DictReader(file, strict=True))
    print(
        json.dumps(
            {
                "json_faults": [error.message for error in checker.iter_errors(feed)],
                "spoilt_faults": len(list(checker.iter_errors(spoilt))),
                "rows": rows,
                "columns": [c["name"] for c in json.loads((folder / "feed-csv.json").read_text("utf-8"))["tableSchema"]["columns"]],
                "calendars": {path.stem: calendar(path) for path in sorted(folder.glob("*.ics"))},
            }
        )
    )


if __name__ == "__main__":
    main()

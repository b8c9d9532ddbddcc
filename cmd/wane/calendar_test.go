package main

import (
	"encoding/json"
	"os"
	"os/exec"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// readCalendar is a program that prints, as JSON, what a calendar holds, by a library that is not ours.
const readCalendar = `
import icalendar, json, sys
data = open(sys.argv[1], "rb").read()
for line in data.split(b"\r\n"):
    assert len(line) <= 75, line  # RFC 5545, 3.1
    line.decode("utf-8")          # folding breaks no character
assert b"\n" not in data.replace(b"\r\n", b"") and data.endswith(b"\r\n")
calendar = icalendar.Calendar.from_ical(data)
assert calendar["VERSION"] == "2.0" and calendar["PRODID"]
events = []
for e in calendar.walk("VEVENT"):
    assert not e.errors, e.errors
    events.append({"uid": str(e["UID"]), "stamp": e["DTSTAMP"].dt.isoformat(), "start": e["DTSTART"].dt.isoformat(),
        "end": e["DTEND"].dt.isoformat(), "summary": str(e["SUMMARY"]), "what": str(e["DESCRIPTION"])})
print(json.dumps(events))
`

type calendarEvent struct{ UID, Stamp, Start, End, Summary, What string }

// eventsOf reads a calendar with Debian's python3-icalendar.
func eventsOf(t *testing.T, path string) (events []calendarEvent) {
	t.Helper()
	const python = "/usr/bin/python3"
	if err := exec.Command(python, "-c", "import icalendar").Run(); err != nil {
		const missing = "there is no icalendar to read the calendar with; install it (Debian: apt-get install python3-icalendar)"
		if os.Getenv("CI") != "" {
			t.Fatal(missing)
		}
		t.Skip(missing)
	}
	out, err := exec.Command(python, "-c", readCalendar, path).CombinedOutput()
	require.NoError(t, err, string(out))
	require.NoError(t, json.Unmarshal(out, &events))
	return events
}

// The calendar of due is read by a library from outside: Debian's python3-icalendar. Names with what
// RFC 5545 gives a meaning to (3.3.11), and with long and wide characters, come out as they are; and a
// calendar that is written again has the same identifiers.
func TestCalendarByOutsideLibrary(t *testing.T) {
	t.Chdir(t.TempDir())
	coupons := "coupon,role,supplier,coating,lot,glass,glass_mm,back,exposure\n"
	var codes []string
	for _, code := range []string{"E;1", `E\2`, "E:3", "Größe-ß-プレート-Ω-very-long-code-of-a-coupon-that-folds-a-line-1",
		"プレートプレートプレートプレートプレートプレートプレート"} {
		coupons += code + ",exposed,m,K,1,soda-lime,,matched,roof; west\n"
		codes = append(codes, code)
	}
	for name, text := range map[string]string{"coupons.csv": coupons,
		"exposures.csv": "exposure,protocol,site,dose_unit,start\nroof; west,rack,nowhere,days,2099-01-01\n",
		"pulls.csv":     "exposure,pull,dose,date\nroof; west,0,0,2099-01-01\nroof; west,1,90,2099-02-28\nroof; west,2,180,\n"} {
		require.NoError(t, os.WriteFile(name, []byte(text), 0o644))
	}
	requireDone(t, "new s.wane")
	requireDone(t, "enrol coupons.csv exposures.csv pulls.csv")
	requireDone(t, "due --calendar a.ics")
	events := eventsOf(t, "a.ics")
	require.Len(t, events, 2, "a pull without a day has none")
	assert.Equal(t, []string{"2099-01-01", "2099-01-02", "pull 0 of roof; west at 0 days"},
		[]string{events[0].Start, events[0].End, events[0].Summary})
	assert.Equal(t, []string{"2099-02-28", "2099-03-01", "pull 1 of roof; west at 90 days"},
		[]string{events[1].Start, events[1].End, events[1].Summary})
	for _, e := range events {
		for _, code := range codes {
			assert.Contains(t, e.What, code)
		}
		assert.True(t, strings.HasSuffix(e.Stamp, "+00:00"), e.Stamp)
	}
	requireDone(t, "due --calendar b.ics")
	again := eventsOf(t, "b.ics")
	for i := range events {
		assert.Equal(t, events[i].UID, again[i].UID)
	}
	assert.NotEqual(t, events[0].UID, events[1].UID)
}

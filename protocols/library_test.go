package protocols_test

import (
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"wane/protocols"
)

// What the library must have: the kinds of ageing and of reading that a study of coated glass needs.
func TestLibraryIsWhole(t *testing.T) {
	var names []string
	for _, p := range protocols.Library() {
		names = append(names, p.Name)
		again, err := protocols.Read([]byte(p.Text))
		require.NoError(t, err, p.Name)
		assert.Equal(t, p, again)
		assert.Equal(t, p, protocols.Find(p.Name), "its file has its name")
	}
	assert.Equal(t, []string{"angle-reflectance", "brush-abrasion", "brush-cleaning", "damp-heat", "dark-storage",
		"falling-sand", "field-rack", "humidity-freeze", "thermal-cycling", "uv-dose"}, names)
}

// Nobody has looked at the standards: each level says so, or says that it has no source.
func TestSourcesOfTheLibraryAreHonest(t *testing.T) {
	for _, p := range protocols.Library() {
		for _, l := range append(p.Levels, protocols.Level{What: "basis", Source: p.Basis}) {
			if l.Source != "common practice, no source" {
				assert.Contains(t, l.Source, "from memory", "%s: %s", p.Name, l.What)
			}
		}
	}
}

// Levels that people of the trade know by heart, from memory of IEC 61215-2 (MQT 10 to 13).
func TestLevelsOfTheLibrary(t *testing.T) {
	for _, c := range []struct{ protocol, what, value, unit string }{
		{"damp-heat", "temperature at the coupons", "85 ± 2", "°C"},
		{"damp-heat", "relative humidity", "85 ± 5", "percent"},
		{"thermal-cycling", "low temperature of the coupons", "-40 ± 2", "°C"},
		{"thermal-cycling", "high temperature of the coupons", "85 ± 2", "°C"},
		{"thermal-cycling", "last pull", "200", "cycles"},
		{"humidity-freeze", "time at the high temperature, in each cycle", "at least 20", "hours"},
		{"humidity-freeze", "last pull", "10", "cycles"},
		{"uv-dose", "first dose after the start", "15", "kWh/m2"},
	} {
		p := protocols.Find(c.protocol)
		require.NotNil(t, p, c.protocol)
		i := slices.IndexFunc(p.Levels, func(l protocols.Level) bool { return l.What == c.what })
		require.GreaterOrEqual(t, i, 0, c.what)
		assert.Equal(t, c.value, p.Levels[i].Value, c.what)
		assert.Equal(t, c.unit, p.Levels[i].Unit, c.what)
	}
	assert.Equal(t, 1000.0, slices.Max(protocols.Find("damp-heat").Pulls))
	assert.Equal(t, 200.0, slices.Max(protocols.Find("thermal-cycling").Pulls))
	assert.Equal(t, 10.0, slices.Max(protocols.Find("humidity-freeze").Pulls))
	assert.Nil(t, protocols.Find("damp heat"))
}

// What can hurt someone in each protocol is among its cautions.
func TestCautionsOfTheLibrary(t *testing.T) {
	for name, dangers := range map[string][]string{
		"field-rack":        {"energised", "Height", "Heat", "edges cut", "licence"},
		"dark-storage":      {"edges cut", "Chemicals"},
		"damp-heat":         {"Hot chamber", "edges cut", "scald"},
		"uv-dose":           {"eyes and skin", "Ozone", "mercury", "edges cut"},
		"thermal-cycling":   {"Cold and hot chamber", "oxygen", "edges cut"},
		"humidity-freeze":   {"Hot and cold chamber", "oxygen", "edges cut"},
		"brush-abrasion":    {"Silica dust", "Moving parts", "edges cut"},
		"falling-sand":      {"Silica dust", "edges cut"},
		"brush-cleaning":    {"Chemicals", "edges cut", "energised"},
		"angle-reflectance": {"ultraviolet", "voltage", "edges cut", "Chemicals"},
	} {
		p := protocols.Find(name)
		require.NotNil(t, p, name)
		all := strings.Join(p.Cautions, "\n")
		for _, danger := range dangers {
			assert.Contains(t, all, danger, name)
		}
	}
	for _, first := range []string{"Local codes", "safety rules of the site", "licensed practice"} {
		assert.Contains(t, protocols.Precedence, first)
	}
}

// Days counted by a calendar: 2031 is no leap year, 2032 is one.
func TestDates(t *testing.T) {
	start := time.Date(2031, 12, 1, 0, 0, 0, 0, time.UTC)
	for _, c := range []struct {
		name string
		p    protocols.Protocol
		want []string
	}{
		{"days", protocols.Protocol{DosePerDay: 1, Pulls: []float64{0, 30, 90, 365}},
			[]string{"2031-12-01", "2031-12-31", "2032-02-29", "2032-11-30"}},
		{"a dose that is complete within a day", protocols.Protocol{DosePerDay: 24, Pulls: []float64{0, 12, 250, 1000}},
			[]string{"2031-12-01", "2031-12-02", "2031-12-12", "2032-01-12"}},
		{"nobody knows the dose of a day", protocols.Protocol{Pulls: []float64{0, 15}}, []string{"2031-12-01", ""}},
		{"beyond a century", protocols.Protocol{DosePerDay: 1e-300, Pulls: []float64{0, 1e300}}, []string{"2031-12-01", ""}},
	} {
		assert.Equal(t, c.want, c.p.Dates(start), c.name)
	}
}

package store_test

import (
	"context"
	"database/sql"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"wane/study"
	"wane/study/store"
)

// protocolsOf returns all versions of the protocols of a study.
func protocolsOf(ctx context.Context, s *store.Store) (all []study.Protocol, err error) {
	err = s.View(ctx, func(v *store.View) error {
		all, err = v.Protocols()
		return err
	})
	return all, err
}

func TestProtocols(t *testing.T) {
	s, path := enrolled(t)
	for _, c := range []struct {
		name, protocol, text string
		version              int
		added                bool
	}{
		{"the first", "heat", "85 °C", 1, true},
		{"the same", "heat", "85 °C", 1, false},
		{"another text", "heat", "90 °C", 2, true},
		{"the text of an older version", "heat", "85 °C", 3, true},
		{"another protocol", "brush", "85 °C", 1, true},
	} {
		t.Run(c.name, func(t *testing.T) {
			require.NoError(t, s.Write(t.Context(), entry("protocol"), func(tx *store.Tx) error {
				version, added, err := tx.AddProtocol(c.protocol, c.text)
				assert.Equal(t, c.version, version)
				assert.Equal(t, c.added, added)
				return err
			}))
		})
	}
	all, err := protocolsOf(t.Context(), s)
	require.NoError(t, err)
	assert.Equal(t, []study.Protocol{{Name: "brush", Version: 1, Text: "85 °C"}, {Name: "heat", Version: 1, Text: "85 °C"},
		{Name: "heat", Version: 2, Text: "90 °C"}, {Name: "heat", Version: 3, Text: "85 °C"}}, all)
	assert.Equal(t, "heat@3", all[3].String())
	require.NoError(t, s.Write(t.Context(), entry("protocol"), func(tx *store.Tx) error {
		for version, want := range map[int]*study.Protocol{0: &all[3], 2: &all[2], 4: nil} {
			got, err := tx.Protocol("heat", version)
			require.NoError(t, err)
			assert.Equal(t, want, got, version)
		}
		got, err := tx.Protocol("cold", 0)
		assert.Nil(t, got)
		return err
	}))
	err = s.Write(t.Context(), entry("protocol"), func(tx *store.Tx) error {
		_, _, err := tx.AddProtocol("", "85 °C")
		return err
	})
	refused(t, err, "the protocol has no name")
	assert.Equal(t, []string{"brush|1|85 °C|ada", "heat|1|85 °C|ada", "heat|2|90 °C|ada", "heat|3|85 °C|ada"},
		ask(t, path, "SELECT protocol, version, text, who FROM v_protocols"))
	verified(t, s)
}

// What an exposure and a pull remember of their protocol is of the day of their enrolment: the same row again, in
// another version of the protocol, adds nothing and is no other row.
func TestRowsRememberTheirProtocol(t *testing.T) {
	s, path := enrolled(t)
	add := func(code string) (added [2]bool) {
		require.NoError(t, s.Write(t.Context(), entry("enrol"), func(tx *store.Tx) (err error) {
			added[0], err = tx.AddExposure(study.Exposure{Exposure: "box", Protocol: "heat", DoseUnit: "hours", KeptProtocol: code})
			if err == nil {
				added[1], err = tx.AddPull(study.Pull{Exposure: "box", Pull: 1, Dose: 5, KeptProtocol: code})
			}
			return err
		}))
		return added
	}
	assert.Equal(t, [2]bool{true, true}, add("heat@1"))
	assert.Equal(t, [2]bool{false, false}, add("heat@2"))
	roster, err := s.Roster(t.Context())
	require.NoError(t, err)
	assert.Equal(t, "heat@1", roster.Exposures[0].KeptProtocol)
	assert.Empty(t, roster.Exposures[1].KeptProtocol)
	assert.Equal(t, study.Pull{Exposure: "box", Pull: 1, Dose: 5, KeptProtocol: "heat@1"}, roster.Pulls[0])
	verified(t, s)
	require.NoError(t, s.Close())
	tamper(t, path, func(db *sql.DB) { run(t, db, "UPDATE pull SET kept_protocol = 'heat@2' WHERE exposure = 'box'") })
	assert.Contains(t, verifiedAs(t, path), "table pull, row 5: its checksum is wrong")
}

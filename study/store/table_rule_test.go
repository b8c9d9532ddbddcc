package store_test

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"wane/study"
	"wane/study/store"
)

// limited is a rule. Made up.
var limited = study.KeptRule{Rule: "limit-1", Text: "rule: limit-1\n# what \"it\" limits: µ\n"}

func addRule(tx *store.Tx) error {
	_, err := tx.AddRule(limited)
	return err
}

// verdictOn is a verdict on data up to a line. Made up.
func verdictOn(line int64) study.IssuedVerdict {
	return study.IssuedVerdict{Group: "north\u202fcoat", Line: line, Digest: [32]byte{1, 2}, Verdict: "accept",
		Looked: "[]",
		Row:    `{"rule":"limit-1"}`}
}

// A rule is kept as it was written, its name is used once, and its verdicts stay as they were issued, also as of an
// earlier line.
func TestRulesAndVerdicts(t *testing.T) {
	s, path := create(t)
	add := func(r study.KeptRule) (added bool, err error) {
		err = s.Write(t.Context(), entry("rule"), func(tx *store.Tx) (err error) {
			added, err = tx.AddRule(r)
			return err
		})
		return added, err
	}
	added, err := add(limited) // line 2
	require.NoError(t, err)
	assert.True(t, added)
	added, err = add(limited)
	require.NoError(t, err)
	assert.False(t, added, "the same text again")
	_, err = add(study.KeptRule{Rule: "limit-1", Text: "rule: limit-1\nlimit: 2\n"})
	var refusal *study.Refusal
	require.ErrorAs(t, err, &refusal)
	assert.Contains(t, refusal.Fault, "the study has a rule limit-1 already, of line 2")

	issue := func(v study.IssuedVerdict) error {
		return s.Write(t.Context(), entry("rule"), func(tx *store.Tx) error { return tx.AddVerdict(1, v) })
	}
	require.NoError(t, issue(verdictOn(2)))
	second := verdictOn(3)
	second.Verdict, second.Row = "reject", `{"rule":"limit-1","n":3}`
	require.NoError(t, issue(second))
	assert.Error(t, issue(verdictOn(9)), "of a line that is not there yet")

	read := func(v *store.View) error {
		rules, err := v.Rules()
		require.NoError(t, err)
		require.Len(t, rules, 1)
		assert.Equal(t, limited, rules[0].Row)
		assert.Equal(t, int64(2), rules[0].Line)
		return nil
	}
	verdicts := func(v *store.View) (all []study.IssuedVerdict) {
		require.NoError(t, v.Verdicts(func(rule int64, k store.Kept[study.IssuedVerdict]) error {
			assert.Equal(t, int64(1), rule)
			all = append(all, k.Row)
			return nil
		}))
		return all
	}
	require.NoError(t, s.View(t.Context(), func(v *store.View) error {
		assert.Equal(t, []study.IssuedVerdict{verdictOn(2), second}, verdicts(v))
		return read(v)
	}))
	require.NoError(t, s.ViewAsOf(t.Context(), 3, func(v *store.View) error {
		assert.Equal(t, []study.IssuedVerdict{verdictOn(2)}, verdicts(v))
		return read(v)
	}))
	require.NoError(t, s.Close())
	assert.Equal(t, []string{"limit-1|accept|2|3|2", "limit-1|reject|3|4|2"},
		ask(t, path, "SELECT rule, verdict, line, log, rule_log FROM v_verdicts"))
}

// The first exposed reading is that of a coupon that is exposed there, beyond its baseline, by the line of its export;
// those of others, of controls and of pull 0 do not count.
func TestFirstExposed(t *testing.T) {
	s, _ := enrolled(t)
	first := func() (found *store.Came) {
		require.NoError(t, s.View(t.Context(), func(v *store.View) (err error) {
			found, err = v.FirstExposed("rack")
			return err
		}))
		return found
	}
	for _, u := range []study.Unit{{Coupon: "K001", Pull: 1, Spot: "a"}, {Coupon: "C001", Pull: 0, Spot: "a"}} {
		takeIn(t, s, u)
	}
	assert.Nil(t, first())
	takeIn(t, s, study.Unit{Coupon: "C002", Pull: 1, Spot: "a"})
	takeIn(t, s, study.Unit{Coupon: "C001", Pull: 1, Spot: "a"})
	came := first()
	require.NotNil(t, came)
	assert.Equal(t, "C002", came.Coupon)
	assert.Equal(t, 1, came.Pull)
	assert.Equal(t, "reading", came.Table)
	require.NoError(t, s.View(t.Context(), func(v *store.View) error {
		last, err := v.LastRead("C002", 1)
		require.NoError(t, err)
		assert.Equal(t, came.Line, last)
		none, err := v.LastRead("C002", 2)
		assert.Zero(t, none)
		return err
	}))
	require.NoError(t, s.View(t.Context(), func(v *store.View) error {
		line, err := v.Line(came.Line)
		assert.Equal(t, "intake", line.Verb)
		return err
	}))
}

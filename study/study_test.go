package study_test

import (
	"errors"
	"fmt"
	"math"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"

	"wane/study"
)

// The columns of results are what outside programs rely on: these names, in this
// order (copied from the page of interfaces).
func TestColumns(t *testing.T) {
	want := strings.Fields(`coupon role supplier coating lot exposure pull dose dose_unit date spot session condition state
		solar_T u_solar_T cell_T u_cell_T gain_pp u_gain_pp gain_kept u_gain_kept change_pp u_change_pp
		corrected_change_pp u_corrected_change_pp change_unseen_pp correction n_controls thickness_nm
		u_thickness_nm porosity u_porosity bare_fraction u_bare_fraction solid_nm u_solid_nm
		optical_thickness_nm u_optical_thickness_nm film_index_550nm u_film_index_550nm scale u_scale
		solar_T_data solar_share_covered noise rms_residual reduced_chi2 points model flags
		film_k u_film_k absorbed_pp u_absorbed_pp cleanings rinses baseline_pull spot_position rack_position`)
	var got []string
	r := study.NewResult()
	for _, c := range study.Columns() {
		got = append(got, c.Name)
		set := 0
		if c.Text != nil {
			set++
			assert.Empty(t, c.Text(&r), c.Name)
		}
		if c.Num != nil {
			set++
			assert.True(t, math.IsNaN(float64(c.Num(&r))), "%s of a new result is null", c.Name)
		}
		if c.Words != nil {
			set++
		}
		assert.Equal(t, 1, set, c.Name)
	}
	assert.Equal(t, want, got)
}

// A measure and its uncertainty do not change places: each column reads its own
// field.
func TestColumnsReadTheirFields(t *testing.T) {
	r := study.NewResult()
	r.Thickness = study.Measure{Value: 118, U: 0.2}
	r.SolarT = study.Measure{Value: 0.98, U: 0.001}
	r.Coupon, r.Flags = "G07", []string{"a", "b"}
	got := map[string]any{}
	for _, c := range study.Columns() {
		switch {
		case c.Num != nil:
			got[c.Name] = float64(c.Num(&r))
		case c.Text != nil:
			got[c.Name] = c.Text(&r)
		default:
			got[c.Name] = c.Words(&r)
		}
	}
	assert.Equal(t, 118.0, got["thickness_nm"])
	assert.Equal(t, 0.2, got["u_thickness_nm"])
	assert.Equal(t, 0.98, got["solar_T"])
	assert.Equal(t, 0.001, got["u_solar_T"])
	assert.Equal(t, "G07", got["coupon"])
	assert.Equal(t, []string{"a", "b"}, got["flags"])
}

func TestRefusal(t *testing.T) {
	cause := fmt.Errorf("out of ink")
	for _, c := range []struct {
		r    study.Refusal
		want string
	}{
		{study.Refusal{File: "a.csv", Line: 3, Column: 5, Fault: "odd"}, "a.csv:3:5: odd"},
		{study.Refusal{File: "a.csv", Line: 3, Fault: "odd"}, "a.csv:3: odd"},
		{study.Refusal{File: "a.csv", Fault: "odd", Cause: cause}, "a.csv: odd: out of ink"},
		{study.Refusal{File: "a.csv", Fault: "odd, since the printer is out of ink", Cause: cause},
			"a.csv: odd, since the printer is out of ink"},
		{study.Refusal{Fault: "odd"}, "odd"},
	} {
		assert.Equal(t, c.want, c.r.Error())
	}
	assert.ErrorIs(t, &study.Refusal{Cause: cause}, cause)
}

// Who adds to a refusal leaves it as it was for others that hold it.
func TestRefusalIsCopied(t *testing.T) {
	r := &study.Refusal{Fault: "too dark", Try: "light a lamp"}
	about, at := r.About("coupon A"), r.About("coupon B").At("map.csv", 3)
	assert.Equal(t, study.Refusal{Fault: "too dark", Try: "light a lamp"}, *r)
	assert.Equal(t, "coupon A: too dark", about.Error())
	assert.Equal(t, "map.csv:3: coupon B: too dark", at.Error())
	assert.Equal(t, "light a lamp", at.Try)
}

// A failure of the study has the text of a refusal, and is none.
func TestFailureIsNoRefusal(t *testing.T) {
	cause := errors.New("out of paper")
	var err error = &study.Failure{File: "s.wane", Fault: "damaged", Try: "look", Cause: cause}
	var r *study.Refusal
	assert.NotErrorAs(t, err, &r)
	assert.ErrorIs(t, err, cause)
	assert.Equal(t, "s.wane: damaged: out of paper", err.Error())
}

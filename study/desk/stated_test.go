package desk

import (
	"context"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"wane/study"
)

const statedHeader = "instrument,serial,kind,cone_deg,slit_nm,join_nm,u_join,u_zero,u_tilt\n"

// stated is a made-up study of three sessions with one coupon at one pull each: at an instrument of which nothing is stated,
// at one whose u_zero is, and at that with a light trap.
func (f folder) stated(trap string) *Desk {
	ctx, d := context.Background(), f.start()
	_, err := d.Enrol(ctx, []string{
		f.write("instruments.csv", statedHeader+"plain,,,,,,,,\ndark,,,,,,,0.0001,0.02\n"),
		f.write("standards.csv", standardHeader+"LT,,own,2026-01-01,,zero,,8,u,0,\n"),
		f.write("sessions.csv", sessionHeader+"one,plain,2026-03-01,,,,,\ntwo,dark,2026-03-02,,,,,\nthree,plain,2026-03-03,,,,,\n"),
		f.write("readings.csv", standardReadingHeader+"three,LT,8,u,"+trap+",\n"),
	})
	require.NoError(f.tb, err)
	rows := sessionMapHeader + f.sessionExport("E1", 0, 118, "one", 1, 0, 1) + f.sessionExport("E1", 1, 118, "two", 1, 0, 2) +
		f.sessionExport("C1", 0, 118, "three", 1, 0, 3)
	in, err := d.Intake(ctx, f.write("map.csv", rows), nil, IntakeOptions{Workers: 1})
	require.NoError(f.tb, err)
	require.Empty(f.tb, in.Refused)
	return d
}

// A zero that is known better makes solar_T surer, the trace says by what, and the fit is stale once that changes.
func TestWhatIsStatedIsUsedAndTraced(t *testing.T) {
	ctx, f := context.Background(), newFolder(t)
	d := f.stated("0.0001")
	f.fit(d)
	u := map[string]float64{}
	for _, r := range results(t, d) {
		u[r.Session] = float64(r.SolarT.U)
	}
	assert.Less(t, u["two"], 0.95*u["one"], "u_zero 0.0001 in place of 0.0005 takes off a fifth or more")
	assert.Less(t, u["three"], 0.95*u["one"], "a light trap does the same")

	knew := func(coupon string, pull int) (all []string) {
		traced, err := d.Trace(ctx, coupon, pull, "")
		require.NoError(t, err)
		for _, k := range traced.Units[0].Fits[0].Knew {
			all = append(all, k.String())
		}
		return all
	}
	assert.Equal(t, []string{"zero 0 ± 0.0005 assumed", "wavelength 0 ± 0.3 nm assumed", "place ± 0.002 assumed",
		"tilt ± 0.05 degrees assumed", "place zero ± 0.0002 assumed", "leak 0.00016 ± 0.00012 assumed",
		"glass index ± 0.002 assumed"}, knew("E1", 0))
	two := knew("E1", 1)
	assert.Contains(t, two, "zero 0 ± 0.0001 stated by instrument dark")
	assert.Contains(t, two, "tilt ± 0.02 degrees stated by instrument dark")
	assert.Contains(t, two, "place ± 0.002 assumed")
	assert.Contains(t, knew("C1", 0), "zero 0.0001 ± 0.0001 stated by light trap LT")

	// A second reading of the trap makes the fit of its session stale, and no other.
	_, err := d.Enrol(ctx, []string{f.write("more.csv", standardReadingHeader+"three,LT,8,u,0.0003,2\n")})
	require.NoError(t, err)
	assert.Empty(t, knew("C1", 0), "a stale fit did not know what is stated now")
	again := f.fit(d)
	assert.Equal(t, []int{1, 2}, []int{again.Fits, again.Current})
	assert.Contains(t, knew("C1", 0), "zero 0.0002 ± 0.000141 stated by light trap LT", "0.0001 by itself and by the scatter")

	// A light trap is no check of whether to trust a session.
	checks, err := d.Check(ctx, CheckOptions{Session: "three"})
	require.NoError(t, err)
	assert.Contains(t, checks[0].Why, "no check standard was read")
}

// A light trap that is brighter than the coupon is refused with the fit, and what contradicts the register when it is enrolled.
func TestContradictoryStatements(t *testing.T) {
	ctx, f := context.Background(), newFolder(t)
	d := f.stated("0.015")
	done, err := d.Fit(ctx, FitOptions{Workers: 1})
	require.NoError(t, err)
	require.Len(t, done.Refused, 1)
	var refused *study.Refusal
	require.ErrorAs(t, done.Refused[0], &refused)
	assert.Contains(t, refused.Fault, "the light trap LT of session three reads 0.015, and coupon C1 at ")
	assert.NotEmpty(t, refused.Try)

	before := dump(t, d)
	_, err = d.Enrol(ctx, []string{f.write("more.csv", standardReadingHeader+"two,LT,8,u,0.001,\n")})
	refusedBy(t, err, "session two: its light trap reads 0.001, and the u_zero of instrument dark is stated as 0.0001")
	assert.Equal(t, before, dump(t, d))
}

// refusedBy is refused without a place.
func refusedBy(t *testing.T, err error, fault string) {
	t.Helper()
	var r *study.Refusal
	require.ErrorAs(t, err, &r)
	assert.Contains(t, r.Fault, fault)
	assert.NotEmpty(t, r.Try)
}

// The joint fit of a session goes by what is stated, too: a zero that is known makes its solar values surer.
func TestASessionFitUsesWhatIsStated(t *testing.T) {
	ctx := context.Background()
	u := map[string]float64{}
	for _, trap := range []string{"", "three,LT,8,u,0,\n"} {
		f := newFolder(t)
		d, err := New(ctx, filepath.Join(f.path, "made.wane"),
			study.Settings{Correction: study.RouteSession, Mixing: "bruggeman"}, tester())
		require.NoError(t, err)
		t.Cleanup(func() { require.NoError(t, d.Close()) })
		_, err = d.Enrol(ctx, append(f.rosters(), f.write("instruments.csv", statedHeader+"plain,,,,,,,,\n"),
			f.write("standards.csv", standardHeader+"LT,,own,2026-01-01,,zero,,8,u,0,\n"),
			f.write("sessions.csv", sessionHeader+"three,plain,2026-03-03,,,,,\n"),
			f.write("readings.csv", standardReadingHeader+trap)))
		require.NoError(t, err)
		rows := sessionMapHeader + f.sessionExport("E1", 0, 118, "three", 1, 0, 1) + f.sessionExport("C1", 0, 118, "three", 1, 0, 2)
		_, err = d.Intake(ctx, f.write("map.csv", rows), nil, IntakeOptions{Workers: 1})
		require.NoError(t, err)
		done := f.fit(d)
		require.Len(t, done.Sessions, 1)
		for _, r := range results(t, d) {
			if r.Coupon == "E1" {
				u[trap] = float64(r.SolarT.U)
			}
		}
	}
	assert.Less(t, u["three,LT,8,u,0,\n"], 0.9*u[""])
}

// A batch of glass is enrolled like other tables, and counted. The same again adds nothing.
func TestEnrolBatchesOfGlass(t *testing.T) {
	ctx, f := context.Background(), newFolder(t)
	d := f.start()
	files := []string{f.write("batches.csv", "glass,batch,u_index,model\nsoda-lime,melt 7,0.0003,\n"),
		f.write("more.csv", strings.TrimSuffix(couponHeader, "\n")+
			",glass_batch,leak\nE2,exposed,m,K,1,soda-lime,,matched,roof,melt 7,0.001\n")}
	n, err := d.Enrol(ctx, files)
	require.NoError(t, err)
	assert.Equal(t, []int{1, 1}, []int{n.Coupons, n.Batches})
	again, err := d.Enrol(ctx, files)
	require.NoError(t, err)
	assert.True(t, again.None())

	in, err := d.Intake(ctx, f.write("map.csv", sessionMapHeader+f.sessionExport("E2", 0, 118, "", 1, 0, 1)), nil,
		IntakeOptions{Workers: 1})
	require.NoError(t, err)
	require.Empty(t, in.Refused)
	f.fit(d)
	traced, err := d.Trace(ctx, "E2", 0, "")
	require.NoError(t, err)
	knew := traced.Units[0].Fits[0].Knew
	assert.Equal(t, "glass batch melt 7", knew[len(knew)-1].By)
	assert.Equal(t, "leak 0.0008 ± 0.0006 stated by coupon E2", knew[len(knew)-2].String())
}

// A mounting is kept with the reading, and the first one is what nobody needs to state.
func TestMountingIsKept(t *testing.T) {
	ctx, f := context.Background(), newFolder(t)
	d := f.start()
	f.export("a.csv", 118, 0, 1)
	f.export("b.csv", 118, 0, 2)
	head := strings.TrimSuffix(mapHeader, "\n") + ",replicate,mounting\n"
	rowsOf := func(file, tail string) string {
		return strings.ReplaceAll(rows(file, "E1", 0), "percent\n", "percent,"+tail+"\n")
	}
	in, err := d.Intake(ctx, f.write("map.csv", head+rowsOf("a.csv", ",1")+rowsOf("b.csv", "2,2")), nil,
		IntakeOptions{Workers: 1})
	require.NoError(t, err)
	require.Empty(t, in.Refused)
	readings, err := d.store.Readings(ctx, study.Unit{Coupon: "E1", Pull: 0, Spot: "1"})
	require.NoError(t, err)
	require.Len(t, readings, 4)
	for _, r := range readings {
		assert.Equal(t, []int{0, 0, 2}[r.Replicate], r.Mounting, "replicate %d", r.Replicate)
	}
	sound, err := d.Verify(ctx, VerifyOptions{})
	require.NoError(t, err)
	assert.True(t, sound.Sound())
}

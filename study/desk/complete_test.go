package desk

import (
	"context"
	"os"
	"path/filepath"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"wane/study"
	"wane/study/ageing"
)

// verbs are the operations that read a study, and fit.
func verbs() map[string]func(context.Context, *Desk) error {
	none := func(*study.Result) error { return nil }
	return map[string]func(context.Context, *Desk) error{
		"results": func(ctx context.Context, d *Desk) error { return d.Results(ctx, ResultsOptions{}, none) },
		"joint":   func(ctx context.Context, d *Desk) error { return d.Results(ctx, ResultsOptions{Joint: true}, none) },
		"groups": func(ctx context.Context, d *Desk) error {
			_, err := d.Groups(ctx, ageing.ByCoating, ResultsOptions{})
			return err
		},
		"trace": func(ctx context.Context, d *Desk) error { _, err := d.Trace(ctx, "E1", AllPulls, ""); return err },
		"trace file": func(ctx context.Context, d *Desk) error {
			_, err := d.TraceFile(ctx, "E10.csv")
			return err
		},
		"export spectra": func(ctx context.Context, d *Desk) error {
			return d.Spectra(ctx, nil, func(*Spectrum) error { return nil })
		},
		"export measurements": func(ctx context.Context, d *Desk) error {
			return d.Measurements(ctx, nil, func(*study.Measurement, TracedFile, TracedFile) error { return nil })
		},
		"export originals": func(ctx context.Context, d *Desk) error {
			_, err := d.ExportOriginals(ctx, filepath.Join(os.TempDir(), "wane-none-is-made"), nil)
			return err
		},
		"report": func(ctx context.Context, d *Desk) error { _, err := d.Report(ctx, ageing.ByCoating); return err },
		"check":  func(ctx context.Context, d *Desk) error { _, err := d.Check(ctx, CheckOptions{}); return err },
		"review": func(ctx context.Context, d *Desk) error { _, err := d.Judgements(ctx, Everything()); return err },
		"fit":    func(ctx context.Context, d *Desk) error { _, err := d.Fit(ctx, FitOptions{Workers: 1}); return err },
	}
}

// If one row was removed by plain SQL, from any table, each operation that reads the study fails and names
// wane verify. Nothing is written, and nothing panics.
func TestMissingRowIsRefused(t *testing.T) {
	f := newFolder(t)
	path, _ := f.spots(study.Settings{Correction: study.RouteControls, Mixing: "bruggeman"})
	d := open(t, path)
	_, err := d.Fit(context.Background(), FitOptions{Workers: 1})
	require.NoError(t, err)
	require.NoError(t, d.Close())
	whole := readFile(t, path)
	for name, query := range map[string]string{
		"a current fit":   "DELETE FROM fit WHERE coupon = 'E1' AND pull = 0",
		"the last fit":    "DELETE FROM fit WHERE id = (SELECT max(id) FROM fit)",
		"a reading":       "DELETE FROM reading WHERE coupon = 'C1' AND pull = 1 AND angle_deg = 8",
		"the last one":    "DELETE FROM reading WHERE id = (SELECT max(id) FROM reading)",
		"all of a coupon": "DELETE FROM reading WHERE coupon = 'E1'",
		"a coupon":        "DELETE FROM coupon WHERE coupon = 'E1'",
		"a control":       "DELETE FROM coupon WHERE coupon = 'C1'",
		"a pull":          "DELETE FROM pull WHERE pull = 1",
		"an exposure":     "DELETE FROM exposure",
		"an export":       "DELETE FROM export WHERE name = 'E10.csv'",
		"an original":     "DELETE FROM original WHERE id = 2",
		"wavelengths":     "DELETE FROM grid",
		"a guard's round": "DELETE FROM guarding",
		"the first line":  "DELETE FROM log WHERE number = 1",
		"a line":          "DELETE FROM log WHERE number = (SELECT max(number) FROM log)",
	} {
		t.Run(name, func(t *testing.T) {
			for verb, do := range verbs() {
				if all := []string{"a current fit", "a reading", "a coupon"}; !slices.Contains(all, name) && verb != "results" &&
					verb != "trace" {
					continue
				}
				writeFile(t, path, whole)
				plainSQL(t, path, query)
				d := open(t, path)
				before := dump(t, d)
				err := do(context.Background(), d)
				var failure *study.Failure
				require.ErrorAs(t, err, &failure, verb)
				assert.Contains(t, failure.Try, "wane verify", verb)
				assert.Equal(t, before, dump(t, d), verb)
				require.NoError(t, d.Close())
			}
			d := open(t, path)
			v, err := d.Verify(context.Background(), VerifyOptions{})
			require.NoError(t, err)
			assert.False(t, v.Sound())
			require.NoError(t, d.Close())
		})
	}
}

// A coupon whose row was replaced by that of another, with equal counts, is reported as damage where it is
// needed, without a panic.
func TestExchangedCouponIsRefused(t *testing.T) {
	ctx := context.Background()
	f, g := newFolder(t), newFolder(t)
	path, _ := f.spots(study.Settings{Correction: study.RouteControls, Mixing: "bruggeman"})
	d := open(t, path)
	_, err := d.Fit(ctx, FitOptions{Workers: 1})
	require.NoError(t, err)
	require.NoError(t, d.Close())

	other, err := New(ctx, filepath.Join(g.path, "other.wane"),
		study.Settings{Correction: study.RouteControls, Mixing: "bruggeman"}, tester())
	require.NoError(t, err)
	rosters := g.rosters()
	rosters[0] = g.write("coupons.csv", couponHeader+"X9,exposed,m,K,1,soda-lime,3.2,matched,roof\n"+
		"C1,control,m,K,1,soda-lime,,matched,\nB1,blank,,,,soda-lime,,matched,\n")
	_, err = other.Enrol(ctx, rosters)
	require.NoError(t, err)
	require.NoError(t, other.Close())
	plainSQL(t, path, "ATTACH '"+filepath.Join(g.path, "other.wane")+"' AS other",
		"DELETE FROM coupon WHERE coupon = 'E1'", "INSERT INTO coupon SELECT * FROM other.coupon WHERE coupon = 'X9'")

	for verb, do := range verbs() {
		if verb == "check" || verb == "review" || verb == "export measurements" || verb == "export originals" {
			continue // which look up no coupon
		}
		d := open(t, path)
		err := do(ctx, d)
		failed(t, err, `its coupon "E1" is not enrolled`)
		require.NoError(t, d.Close())
	}
	d = open(t, path)
	_, err = d.Intake(ctx, f.write("again.csv", mapHeader+rows("more.csv", "E1", 1)), nil, IntakeOptions{Workers: 1})
	require.NoError(t, err, "the coupon is refused as one that nobody enrolled")
	require.NoError(t, d.Close())
}

func readFile(t *testing.T, path string) []byte {
	t.Helper()
	data, err := os.ReadFile(path)
	require.NoError(t, err)
	return data
}

func writeFile(t *testing.T, path string, data []byte) {
	t.Helper()
	require.NoError(t, os.WriteFile(path, data, 0o644))
}

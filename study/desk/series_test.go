package desk

import (
	"context"
	"fmt"
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"wane/study"
	"wane/study/series"
	"wane/study/service"
)

// seriesStudy is a made-up study of two exposed coupons and two controls with two spots and three pulls.
func seriesStudy(t *testing.T) *Desk {
	f, ctx := newFolder(t), context.Background()
	f.write("coupons.csv", couponHeader+"E1,exposed,m,K,1,soda-lime,,matched,roof\nE2,exposed,m,K,2,soda-lime,,matched,roof\n"+
		"C1,control,m,K,1,soda-lime,,matched,\nC2,control,m,K,1,soda-lime,,matched,\n")
	f.write("exposures.csv", exposureHeader+"roof,rack,nowhere,days,2026-01-01\n")
	f.write("pulls.csv", pullHeader+"roof,0,0,2026-01-01\nroof,1,90,2026-04-01\nroof,2,180,2026-06-30\n")
	d := f.startFrom("coupons.csv", "exposures.csv", "pulls.csv")
	placing := mapHeader
	films := map[string][]float64{"E1": {120, 112, 105}, "E2": {119, 113, 108}, "C1": {118, 118.2, 118}, "C2": {121, 121, 120.8}}
	for coupon, nm := range films {
		for pull, thickness := range nm {
			for spot := range 2 {
				name := fmt.Sprintf("%s-%d-%d.csv", coupon, pull, spot)
				f.export(name, thickness+float64(spot), 0.01*float64(pull), len(placing)%97)
				for k, angle := range []int{8, 60} {
					placing += fmt.Sprintf("%s,#%d,%s,%d,%d,%d,u,R,percent\n", name, k+2, coupon, pull, spot+1, angle)
				}
			}
		}
	}
	taken, err := d.Intake(ctx, f.write("map.csv", placing), nil, IntakeOptions{})
	require.NoError(t, err)
	require.Empty(t, taken.Refused)
	_, err = d.Fit(ctx, FitOptions{})
	require.NoError(t, err)
	return d
}

// spotMeans are the mean over spots of what each row states and of the terms of it, by coupon and pull.
type spotMeans struct {
	value map[[2]string]float64
	terms map[[2]string][]study.Weighted
}

// meansOfRows computes them from rows of results.
func meansOfRows(rows []study.Result, of func(r *study.Result) (float64, []study.Weighted)) spotMeans {
	m := spotMeans{map[[2]string]float64{}, map[[2]string][]study.Weighted{}}
	for i := range rows {
		key := [2]string{rows[i].Coupon, fmt.Sprint(rows[i].Pull)}
		value, terms := of(&rows[i])
		m.value[key] += value / 2 // each has two spots
		for _, term := range terms {
			m.terms[key] = append(m.terms[key], study.Weighted{Errors: term.Errors, Output: term.Output, Weight: term.Weight / 2})
		}
	}
	return m
}

// What the roster says is refused before anything is gathered: Keep would look at what was.
func TestSeriesChecksTheRosterFirst(t *testing.T) {
	f, ctx := newFolder(t), context.Background()
	f.write("coupons.csv", couponHeader+"E1,exposed,m,K,1,soda-lime,,matched,roof\nE2,exposed,m,L,2,soda-lime,,matched,rig\n")
	f.write("exposures.csv", exposureHeader+"roof,rack,nowhere,days,2026-01-01\nrig,lamps,nowhere,hours,2026-01-01\n")
	d := f.startFrom("coupons.csv", "exposures.csv")
	looked := false
	with := SeriesOptions{Keep: func(*series.Coupon) bool { looked = true; return true }}
	_, err := d.Series(ctx, "solar_T", with)
	require.NoError(t, err)
	require.True(t, looked)
	looked = false
	with.Check = func(r *study.Roster) error { return fmt.Errorf("%d coupons", len(r.Coupons)) }
	_, err = d.Series(ctx, "solar_T", with)
	require.ErrorContains(t, err, "2 coupons")
	assert.False(t, looked)
	_, err = d.Compare(ctx, CompareOptions{})
	assert.ErrorContains(t, err, "the study has 2 exposures: rig, roof")
	_, err = d.Service(ctx, ServiceOptions{Terms: service.Terms{Years: 2, Yield: 1000}})
	assert.ErrorContains(t, err, "there are several exposures: rig, roof")
	_, _, err = d.Spreads(ctx, SpreadOptions{})
	assert.ErrorContains(t, err, "the study has several exposures: rig, roof")
}

// The series of the solar transmittance have the values and the covariances of the rows of results, whose sums of
// effects are taken by another way.
func TestSeriesFollowTheLawOfCovariance(t *testing.T) {
	d := seriesStudy(t)
	rows := results(t, d)
	changes := meansOfRows(rows, func(r *study.Result) (float64, []study.Weighted) {
		if study.Role(r.Role) == study.Control {
			return float64(r.Change.Value), r.ChangeTerms
		}
		return float64(r.CorrectedChange.Value), r.CorrectedTerms
	})
	levels := meansOfRows(rows, func(r *study.Result) (float64, []study.Weighted) {
		return 100 * float64(r.SolarT.Value), []study.Weighted{{Errors: &r.Fit.Errors, Output: study.OutSolarT, Weight: 100}}
	})
	data, err := d.Series(context.Background(), "solar_T", SeriesOptions{})
	require.NoError(t, err)
	require.Len(t, data.Coupons, 4)
	require.Empty(t, data.Skipped)
	for _, of := range []struct {
		value func(*series.Point) *series.Value
		want  spotMeans
	}{
		{func(p *series.Point) *series.Value { return &p.Level }, levels},
		{func(p *series.Point) *series.Value { return &p.Change }, changes},
	} {
		var all []*series.Value
		var keys [][2]string
		for i := range data.Coupons {
			c := &data.Coupons[i]
			require.Len(t, c.Points, 3)
			for k := range c.Points {
				p := &c.Points[k]
				all, keys = append(all, of.value(p)), append(keys, [2]string{c.Coupon, fmt.Sprint(p.Pull)})
				assert.Equal(t, 90*float64(p.Pull), p.Days)
				assert.Equal(t, 2, p.Spots)
			}
		}
		for i, v := range all {
			assert.InDelta(t, of.want.value[keys[i]], v.Value, 1e-9, keys[i])
			assert.InEpsilon(t, 1, 1+study.Uncertainty(of.want.terms[keys[i]])-v.U(), 1e-9, keys[i])
			for j := range i {
				want := study.Covariance(of.want.terms[keys[i]], of.want.terms[keys[j]])
				assert.InDelta(t, want, series.Covariance(&v.Errors, &all[j].Errors), 1e-12, "%v %v", keys[i], keys[j])
			}
		}
	}
}

// Other quantities are those of the columns of results; a gain kept is that of the row where nothing corrects.
func TestSeriesOfOtherQuantities(t *testing.T) {
	d := seriesStudy(t)
	rows := results(t, d)
	columns := map[string]study.Column{}
	for _, c := range study.Columns() {
		columns[c.Name] = c
	}
	for quantity, column := range map[string]string{"cell_T": "cell_T", "gain_pp": "gain_pp", "solid": "solid_nm",
		"thickness": "thickness_nm", "optical_thickness": "optical_thickness_nm", "film_index": "film_index_550nm",
		"porosity": "porosity", "bare_fraction": "bare_fraction", "gain_kept": "gain_kept"} {
		data, err := d.Series(context.Background(), quantity, SeriesOptions{})
		require.NoError(t, err)
		factor := max(1, data.Quantity.Followed.Factor)
		if quantity == "gain_kept" {
			factor = 1
		}
		want := meansOfRows(rows, func(r *study.Result) (float64, []study.Weighted) {
			return factor * float64(columns[column].Num(r)), nil
		})
		for i := range data.Coupons {
			c := &data.Coupons[i]
			for k := range c.Points {
				p := &c.Points[k]
				require.True(t, p.Level.Known)
				require.False(t, math.IsNaN(p.Change.Value), "%s %s %d", quantity, c.Coupon, p.Pull)
				assert.Equal(t, p.Baseline, p.Change.U() == 0, "%s %s %d", quantity, c.Coupon, p.Pull)
				if quantity == "gain_kept" && c.Role == study.Exposed {
					continue // corrected by the controls, which the column is not
				}
				assert.InDelta(t, want.value[[2]string{c.Coupon, fmt.Sprint(p.Pull)}], p.Level.Value, 1e-9, "%s %s", quantity, c.Coupon)
			}
		}
	}
	_, err := d.Series(context.Background(), "solar-T", SeriesOptions{})
	require.ErrorContains(t, err, "there is no quantity")
}

// Measured quantities: means over replicates, then over spots; changes less that of the controls of the coating.
func TestSeriesOfMeasurements(t *testing.T) {
	d := seriesStudy(t)
	f := folder{t, t.TempDir()}
	table := f.write("haze.csv", "coupon,pull,spot,quantity,value,unit,u,method,date,replicate,operator,picture,note\n"+
		"E1,0,1,haze,1.0,percent,0.1,meter,2026-01-01,1,,,\nE1,0,1,haze,1.2,percent,0.1,meter,2026-01-01,2,,,\n"+
		"E1,0,2,haze,2.1,percent,0.1,meter,2026-01-01,1,,,\nE1,1,1,haze,3.0,percent,0.1,meter,2026-04-01,1,,,\n"+
		"C1,0,,haze,1.0,percent,0.1,meter,2026-01-01,1,,,\nC1,1,,haze,1.5,percent,0.1,meter,2026-04-01,1,,,\n"+
		"C2,0,,haze,1.0,percent,0.1,meter,2026-01-01,1,,,\nC2,1,,haze,1.9,percent,0.1,meter,2026-04-01,1,,,\n")
	measured, err := d.Measure(context.Background(), []string{table})
	require.NoError(t, err)
	require.Empty(t, measured.Refused)
	data, err := d.Series(context.Background(), "haze", SeriesOptions{})
	require.NoError(t, err)
	for _, c := range data.Coupons {
		if c.Coupon != "E1" {
			continue
		}
		require.Len(t, c.Points, 2)
		// By hand: pull 0 is ((1.0 + 1.2)/2 + 2.1)/2 = 1.6; its u is 0.1·√(2/16 + 1/4). The controls rose by 0.5 and 0.9: a mean of
		// 0.7, off by 0.2 after their scatter, with one degree of freedom.
		assert.InDelta(t, 1.6, c.Points[0].Level.Value, 1e-12)
		u0 := 0.1 * math.Sqrt(2.0/16+1.0/4)
		assert.InDelta(t, u0, c.Points[0].Level.U(), 1e-12)
		assert.InDelta(t, 3.0-1.6-0.7, c.Points[1].Change.Value, 1e-12)
		assert.InDelta(t, math.Sqrt(0.01+u0*u0+0.04), c.Points[1].Change.U(), 1e-12)
		assert.Len(t, data.DoF, 1)
		for _, s := range c.Points[1].Change.Shared {
			if data.Effects[s.Effect].Owner == study.OwnerControls {
				assert.Equal(t, 1.0, data.DoF[s.Effect])
			}
		}
		assert.Equal(t, 90.0, c.Points[1].Dose)
	}
}

// A coupon that is gathered by itself is as it is among all, and the others are not there.
func TestSeriesOfWantedCoupons(t *testing.T) {
	d, ctx := seriesStudy(t), context.Background()
	for _, quantity := range []string{"solar_T", "thickness", "gain_kept"} {
		all, err := d.Series(ctx, quantity, SeriesOptions{})
		require.NoError(t, err, quantity)
		one, err := d.Series(ctx, quantity, SeriesOptions{Keep: func(c *series.Coupon) bool { return c.Coupon == "E2" }})
		require.NoError(t, err, quantity)
		require.Len(t, one.Coupons, 3, "two controls beside it")
		was := map[string]*series.Coupon{}
		for i := range all.Coupons {
			was[all.Coupons[i].Coupon] = &all.Coupons[i]
		}
		for i := range one.Coupons {
			c := &one.Coupons[i]
			require.NotEqual(t, "E1", c.Coupon)
			require.NotEmpty(t, c.Points, c.Coupon)
			require.Len(t, was[c.Coupon].Points, len(c.Points))
			for k := range c.Points {
				p, q := c.Points[k], was[c.Coupon].Points[k]
				assert.Equal(t, q.Level.Value, p.Level.Value)
				assert.Equal(t, q.Change.Value, p.Change.Value)
				assert.Equal(t, q.Change.Own, p.Change.Own)
				assert.Equal(t, byEffect(all, q.Change.Shared), byEffect(one, p.Change.Shared))
			}
		}
	}
}

// byEffect names the effects of shares.
func byEffect(data *series.Data, shares []series.Share) map[study.Effect]float64 {
	by := map[study.Effect]float64{}
	for _, s := range shares {
		by[data.Effects[s.Effect]] = s.By
	}
	return by
}

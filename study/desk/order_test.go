package desk

import (
	"context"
	"fmt"
	"math/rand/v2"
	"os"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"wane/study"
	"wane/study/guard"
	"wane/study/scenario"
	"wane/study/store"
)

// entry is one operation on a study. It needs those named in needs first.
type entry struct {
	name  string
	needs []string
	do    func(t *testing.T, d *Desk)
}

// shuffled returns the entries in a random order in which each comes after those that it needs.
func shuffled(rng *rand.Rand, entries []entry) (order []entry) {
	done := map[string]bool{}
	for remaining := slices.Clone(entries); len(remaining) > 0; {
		k := rng.IntN(len(remaining))
		if slices.ContainsFunc(remaining[k].needs, func(n string) bool { return !done[n] }) {
			continue
		}
		done[remaining[k].name] = true
		order, remaining = append(order, remaining[k]), slices.Delete(remaining, k, k+1)
	}
	return order
}

// scene writes an export of a film at four angles, 76 points from 400 to 1000 nm, in percent, changed by
// change, and returns its map rows.
func (f folder) scene(coupon string, pull int, spot, session string, thickness, bare float64,
	change func(columns [][]float64)) string {
	rng := rand.New(rand.NewPCG(uint64(len(coupon)*1000+pull), uint64(coupon[0])<<16|uint64(coupon[1])<<8|uint64(spot[0])))
	var nm []float64
	for x := 400.0; x <= 1000; x += 8 {
		nm = append(nm, x)
	}
	angles, columns := []float64{8, 30, 45, 60}, make([][]float64, 4)
	for k, a := range angles {
		r, err := scenario.Surface{ThicknessNM: thickness, Porosity: 0.35, Bare: bare}.Reflectance(nm, a)
		require.NoError(f.tb, err)
		for i := range r {
			r[i] = 100*r[i] + 0.03*rng.NormFloat64()
		}
		columns[k] = r
	}
	if change != nil {
		change(columns)
	}
	name := fmt.Sprintf("x/%s-%d-%s.csv", coupon, pull, spot)
	text, rows := "made up\nnm,8 deg %R,30 deg %R,45 deg %R,60 deg %R\n", ""
	for i := range nm {
		text += fmt.Sprintf("%g,%.4f,%.4f,%.4f,%.4f\n", nm[i], columns[0][i], columns[1][i], columns[2][i], columns[3][i])
	}
	f.write(name, text)
	for k, a := range angles {
		rows += fmt.Sprintf("%s,#%d,%s,%d,%s,%g,u,R,percent,%s\n", name, k+2, coupon, pull, spot, a, session)
	}
	return rows
}

// eachValue changes each value of an export.
func eachValue(do func(column, i int, v float64) float64) func([][]float64) {
	return func(columns [][]float64) {
		for k := range columns {
			for i, v := range columns[k] {
				columns[k][i] = do(k, i, v)
			}
		}
	}
}

const orderCoupons = "C1,control,m,K,1,soda-lime,3.2,matched,roof\nC2,control,m,K,1,soda-lime,3.2,matched,roof\n" +
	"C3,control,m,K,1,soda-lime,3.2,matched,\n" +
	"B1,blank,,,,soda-lime,3.2,matched,roof\nB2,blank,,,,soda-lime,3.2,matched,\n" +
	"E1,exposed,m,K,1,soda-lime,3.2,matched,roof\nE2,exposed,m,K,1,soda-lime,3.2,matched,roof\n" +
	"E3,exposed,m,K,1,soda-lime,3.2,matched,roof\n" +
	"E4,exposed,m,K,1,soda-lime,3.2,matched,roof\nE5,exposed,m,K,1,soda-lime,3.2,matched,roof\n" +
	"E6,exposed,m,K,1,soda-lime,3.2,matched,roof\n" +
	"X1,exposed,x,KX,1,soda-lime,3.2,matched,roof\nX2,exposed,x,KX,1,soda-lime,3.2,matched,roof\n" +
	"Y1,exposed,y,KY,1,soda-lime,3.2,matched,roof\nY2,exposed,y,KY,1,soda-lime,3.2,matched,roof\n"

// orderScenes are the exports of a study in which each guard holds something, by the map
// rows of each: three pulls of eleven coupons, and spots that were read wrongly.
func (f folder) orderScenes() (rows map[string]string) {
	rows = map[string]string{}
	add := func(coupon string, pull int, spot, session string, thickness, bare float64, change func([][]float64)) {
		rows[fmt.Sprintf("%s %d %s", coupon, pull, spot)] = f.scene(coupon, pull, spot, session, thickness, bare, change)
	}
	films := map[string]float64{"C1": 118, "C2": 121, "C3": 119, "B1": 0, "B2": 0, "E1": 80, "E2": 120, "E3": 117,
		"E4": 123, "E5": 116, "E6": 125}
	names := map[string]string{"E1": "E2", "E2": "E1"} // exchanged at pull 1
	for coupon, thickness := range films {
		for pull := range 3 {
			now := thickness
			if other, ok := names[coupon]; ok && pull == 1 {
				now = films[other]
			}
			if coupon[0] == 'E' {
				now -= 0.5 * float64(pull)
			}
			bare := 0.0
			if coupon[0] == 'B' {
				bare = 1
			}
			add(coupon, pull, "1", fmt.Sprintf("s%d", pull), now, bare, nil)
		}
	}
	add("E1", 0, "9", "s0", 118, 0, eachValue(func(_, _ int, v float64) float64 { return 3 * v }))
	add("E2", 0, "9", "s0", 118, 0, eachValue(func(_, _ int, v float64) float64 { return v / 100 }))
	add("E3", 1, "9", "s1", 118, 0, func(c [][]float64) { c[2], c[3] = c[3], c[2] })
	add("E4", 1, "9", "s1", 118, 0, eachValue(func(_, i int, v float64) float64 { // from 700 nm on
		if i >= 37 {
			v += 0.6
		}
		return v
	}))
	add("E4", 0, "8", "s0", 118, 0, eachValue(func(k, _ int, v float64) float64 {
		if k == 0 {
			v = min(v, 1.2)
		}
		return v
	}))
	add("E5", 1, "9", "s1", 118, 0, eachValue(func(_, i int, v float64) float64 { return v + 0.4*float64(i%2) }))
	add("C3", 1, "9", "sx", 119, 0, nil)
	for i, coupon := range []string{"X1", "X2", "Y1", "Y2"} { // all are exchanged at pull 1
		for pull := range 3 {
			for spot := range 2 {
				of := (i + 2*(pull%2)) % 4
				add(coupon, pull, fmt.Sprint(spot+1), fmt.Sprintf("x%d", pull),
					[]float64{118, 119, 106, 107}[of]+0.3*float64(spot-pull), 0, nil)
			}
		}
	}
	text := read(f.tb, f.path+"/x/C1-0-1.csv")
	f.write("x/copy.csv", strings.Replace(text, "made up", "made up again", 1))
	rows["copy"] = strings.NewReplacer("x/C1-0-1.csv", "x/copy.csv", ",C1,0,1,", ",C3,0,9,").Replace(rows["C1 0 1"])
	// and one in the session with joins, whose readings are checked again when it is enrolled
	text = read(f.tb, f.path+"/x/C2-1-1.csv")
	f.write("x/copy1.csv", strings.Replace(text, "made up", "made up again", 1))
	rows["copy1"] = strings.NewReplacer("x/C2-1-1.csv", "x/copy1.csv", ",C2,1,1,", ",C3,1,8,").Replace(rows["C2 1 1"])
	// and one in a session whose certificate had expired, which is held for two reasons
	text = read(f.tb, f.path+"/x/C3-1-9.csv")
	f.write("x/copy2.csv", strings.Replace(text, "made up", "made up again", 1))
	rows["copy2"] = strings.NewReplacer("x/C3-1-9.csv", "x/copy2.csv", ",C3,1,9,", ",C1,1,9,").Replace(rows["C3 1 9"])
	return rows
}

// orderEntries are what is entered after the rosters: parts of the register, exports, and
// what a person sets aside.
func (f folder) orderEntries() (entries []entry) {
	ctx := context.Background()
	enrol := func(name, text string, needs ...string) {
		path := f.write(name+".csv", text)
		entries = append(entries, entry{name, needs, func(t *testing.T, d *Desk) {
			_, err := d.Enrol(ctx, []string{path})
			require.NoError(t, err)
		}})
	}
	enrol("instruments", statedHeader+"plain,1,two beams,,,,,,0.04\njoined,2,two beams,,,690,0.0005,0.0004,\n")
	enrol("batches", "glass,batch,u_index,model\nsoda-lime,melt 7,0.001,\n")
	enrol("trap", standardHeader+"LT,3,own,2026-01-15,,zero,,8,u,0,0.0002\n")
	enrol("trapped1", standardReadingHeader+"s1,LT,8,u,0.0003,1\n", "trap", "session1")
	enrol("trapped1 again", standardReadingHeader+"s1,LT,8,u,0.0001,2\n", "trapped1")
	enrol("trapped2", standardReadingHeader+"s2,LT,8,u,-0.0002,1\n", "trap", "session2")
	const certificates = "reference,serial,certificate,issued,expires,u_scale,values\n"
	enrol("first", certificates+"M1,1,C1,2025-01-01,2026-03-01,0.004,\n")
	enrol("second", certificates+"M1,1,C2,2026-03-15,2027-03-01,0.004,\n", "first")
	for i, row := range []string{"s0,plain,2026-01-01,ada,M1,40,22,\n", "s1,joined,2026-02-01,ada,M1,45,22,\n",
		"s2,plain,2026-04-01,ada,M1,44,22,\n", "sx,plain,2026-03-05,ada,M1,44,22,\n",
		"x2,plain,2026-03-06,ada,M1,44,22,\n"} {
		enrol(fmt.Sprintf("session%d", i),
			"session,instrument,date,operator,reference,humidity_percent,temperature_c,condition\n"+row, "instruments", "first")
	}
	scenes := f.orderScenes()
	for _, name := range sortedKeys(scenes) {
		m := f.write(strings.ReplaceAll(name, " ", "-")+"-map.csv", sessionMapHeader+scenes[name])
		entries = append(entries, entry{name, nil, func(t *testing.T, d *Desk) {
			in, err := d.Intake(ctx, m, nil, IntakeOptions{Workers: 1})
			require.NoError(t, err)
			require.Empty(t, in.Refused)
		}})
	}
	aside := func(coupon string, pull int, spot string) {
		entries = append(entries,
			entry{"aside " + coupon, []string{fmt.Sprintf("%s %d %s", coupon, pull, spot)}, func(t *testing.T, d *Desk) {
				_, err := d.Review(ctx, Selection{Filter: study.Filter{Coupons: []string{coupon},
					Pulls: study.Spans{{From: int64(pull), To: int64(pull)}}, Spots: []string{spot}}, AngleDeg: study.Null()},
					study.Aside, "a finger mark")
				require.NoError(t, err)
			}})
	}
	aside("E6", 1, "1")
	aside("B2", 0, "1")
	return entries
}

func sortedKeys[V any](m map[string]V) (keys []string) {
	for k := range m {
		keys = append(keys, k)
	}
	slices.Sort(keys)
	return keys
}

// heldIn returns what is held: the guards with their reasons by the places of the readings, and the words
// of the guards.
func heldIn(t *testing.T, d *Desk) (found []string, words map[string]bool) {
	held, err := d.held(context.Background())
	require.NoError(t, err)
	words = map[string]bool{}
	for _, j := range held {
		line := fmt.Sprint(j.Place)
		for _, h := range j.Holds {
			words[h.Guard] = true
			line += fmt.Sprintf(" %s: %s", h.Guard, h.Reason)
		}
		found = append(found, line)
	}
	slices.Sort(found)
	return found, words
}

// The same entries hold the same readings for the same reasons and give the same results, in any order:
// the register before or after the exports, pulls backwards, exports one by one, fits in between, and a
// review early or late. There are six orders a route where WANE_LONG is set.
func TestOrderOfEntryDoesNotMatter(t *testing.T) {
	orders := uint64(2)
	if os.Getenv("WANE_LONG") != "" {
		orders = 6
	}
	for _, route := range []study.Route{study.RouteControls, study.RouteSession} {
		t.Run(string(route), func(t *testing.T) {
			first, firstRows, words := enteredInOrder(t, route, 0)
			for _, w := range guard.Kinds() {
				assert.Equal(t, w.Word != "noisy", words[w.Word], w.Word)
			}
			assert.Contains(t, strings.Join(first, "\n"), " swapped: coupon E1 at pull 1 reads like coupon E2; perhaps the "+
				"coupons were exchanged: compare the labels and measure again. Spot 1 is ")
			for _, h := range first { // X and Y are right at pull 2
				assert.False(t, strings.Contains(h, " swapped: ") && strings.ContainsAny(h[1:2], "XY"), h)
			}
			for seed := uint64(1); seed < orders; seed++ {
				found, rows, _ := enteredInOrder(t, route, seed)
				assert.Equal(t, first, found, "order %d", seed)
				require.Len(t, rows, len(firstRows))
				for i := range rows {
					r := &rows[i]
					for _, c := range study.Columns() {
						assert.Equal(t, columnText(c, &firstRows[i]), columnText(c, r),
							"order %d: %s, pull %v, spot %s: %s", seed, r.Coupon, r.Pull, r.Spot, c.Name)
					}
				}
			}
		})
	}
}

// enteredInOrder makes all entries in an order of its own. It returns what is held before the last entry
// and at the end, the results, and the words of the guards. In odd orders fits come in between. At the end
// a person releases what is held for its noise, and one more entry makes the guards run again.
func enteredInOrder(t *testing.T, route study.Route, seed uint64) ([]string, []study.Result, map[string]bool) {
	ctx, f := context.Background(), newFolder(t)
	d, err := New(ctx, f.path+"/made.wane", study.Settings{Correction: route, Mixing: "bruggeman"}, tester())
	require.NoError(t, err)
	t.Cleanup(func() { require.NoError(t, d.Close()) })
	_, err = d.Enrol(ctx, []string{
		f.write("coupons.csv", strings.TrimSuffix(couponHeader, "\n")+",glass_batch,leak\n"+
			strings.NewReplacer(",roof\n", ",roof,melt 7,\n", ",\n", ",,,0.0003\n").Replace(orderCoupons)),
		f.write("exposures.csv", exposureHeader+"roof,rack,nowhere,days,2026-01-01\n"),
		f.write("pulls.csv", pullHeader+"roof,0,0,2026-01-01\nroof,1,90,2026-02-01\nroof,2,180,2026-04-01\n"),
	})
	require.NoError(t, err)
	for i, e := range shuffled(rand.New(rand.NewPCG(seed, 13)), f.orderEntries()) {
		e.do(t, d)
		if seed%2 == 1 && i%17 == 16 {
			_, err := d.Fit(ctx, FitOptions{Workers: 2})
			require.NoError(t, err)
		}
	}
	of := Everything()
	of.Filter = atPull("E5", 1)
	of.Spots = []string{"9"}
	_, err = d.Review(ctx, of, study.Counted, "the lamp was old, the mean is right")
	require.NoError(t, err)
	_, err = d.Fit(ctx, FitOptions{Workers: 2})
	require.NoError(t, err)
	before, _ := heldIn(t, d) // the next entry makes the guards check everything, which would correct what they had missed
	_, err = d.Enrol(ctx, []string{f.write("third.csv", "reference,serial,certificate,issued,expires,u_scale,values\n"+
		"M1,1,C0,2024-01-01,2025-01-01,0.004,\n")})
	require.NoError(t, err)
	_, err = d.Fit(ctx, FitOptions{Workers: 2})
	require.NoError(t, err)
	found, words := heldIn(t, d)
	require.NotEmpty(t, found)
	v, err := d.Verify(ctx, VerifyOptions{})
	require.NoError(t, err)
	assert.True(t, v.Sound(), "%+v", v)
	rebuilt(t, d)
	return append(before, found...), results(t, d), words
}

// After an intake of an earlier pull the guards check the later pulls again, though nothing was entered
// into their sessions.
func TestEarlierPullsCountForLaterOnes(t *testing.T) {
	taken := func(pulls ...int) []string {
		f := newFolder(t)
		f.write("coupons.csv", couponHeader+orderCoupons)
		f.write("exposures.csv", exposureHeader+"roof,rack,nowhere,days,2026-01-01\n")
		f.write("pulls.csv", pullHeader+"roof,0,0,2026-01-01\nroof,1,90,2026-02-01\nroof,2,180,2026-04-01\n")
		d := f.startFrom("coupons.csv", "exposures.csv", "pulls.csv")
		scenes := f.orderScenes()
		for _, pull := range pulls {
			text := sessionMapHeader
			for _, coupon := range []string{"C1", "C2", "C3", "B1", "B2", "E1", "E2", "E3", "E4", "E5", "E6"} {
				text += scenes[fmt.Sprintf("%s %d 1", coupon, pull)]
			}
			f.takeIn(d, fmt.Sprintf("map%d.csv", pull), text)
		}
		held, words := heldIn(t, d)
		require.True(t, words[guard.Swapped], "E1 and E2 are exchanged at pull 1")
		return held
	}
	want := taken(0, 1)
	assert.Equal(t, want, taken(1, 0))
	assert.Equal(t, taken(0, 1, 2), taken(2, 1, 0))
}

func columnText(c study.Column, r *study.Result) string {
	switch {
	case c.Num != nil:
		return fmt.Sprint(float64(c.Num(r)))
	case c.Words != nil:
		return strings.Join(c.Words(r), " ")
	}
	return c.Text(r)
}

// What is enrolled after an intake holds the same readings as before it, and a later entry releases them
// again. The log says both, and only readings of the session are checked.
func TestGuardsRecheckWhatIsRegistered(t *testing.T) {
	ctx := context.Background()
	f := newFolder(t)
	d := f.start()
	f.export("e0.csv", 120, 0, 1)
	f.export("c0.csv", 121, 0, 2)
	f.takeIn(d, "map.csv", sessionMapHeader+sessionRows("e0.csv", "E1", 0, "s0")+sessionRows("c0.csv", "C1", 0, "s9"))
	f.fit(d)
	enrol := func(name, text string) *Enrolled {
		n, err := d.Enrol(ctx, []string{f.write(name, text)})
		require.NoError(t, err)
		return n
	}
	const certificates = "reference,serial,certificate,issued,expires,u_scale,values\n"
	enrol("instruments.csv", "instrument,serial,kind,cone_deg,slit_nm,join_nm,u_join\nbench-1,1,two beams,,,,\n")
	enrol("first.csv", certificates+"M1,1,C1,2025-01-01,2025-06-01,0.004,\n")
	n := enrol("sessions.csv", "session,instrument,date,operator,reference,humidity_percent,temperature_c,condition\n"+
		"s0,bench-1,2026-01-01,ada,M1,40,22,\n")
	require.Len(t, n.Guards.Held, 2)
	assert.Equal(t, "E1", n.Guards.Held[0].Coupon)
	assert.Equal(t, "expired", n.Guards.Held[0].Holds[0].Guard)
	assert.Empty(t, n.Guards.Released)
	assert.Contains(t, lastEntry(t, d).Summary, "looked at 2 readings; held: 2, released: 0")
	assert.False(t, results(t, d)[1].SolarT.Value.Valid(), "its fit says no more")

	n = enrol("second.csv", certificates+"M1,1,C2,2025-06-01,2027-01-01,0.004,\n")
	assert.Empty(t, n.Guards.Held)
	require.Len(t, n.Guards.Released, 2)
	assert.Equal(t, study.Counted, n.Guards.Released[0].Standing)
	assert.Equal(t, lastEntry(t, d).Why, n.Guards.Released[1].Released)
	assert.Equal(t, "looked at 2 readings; held: 0, released: 2 (1 2)", lastEntry(t, d).Summary)
	assert.Contains(t, lastEntry(t, d).Why, "with what was entered since, and found nothing wrong")
	f.fit(d)
	assert.True(t, results(t, d)[1].SolarT.Value.Valid())
	traced, err := d.Trace(ctx, "E1", AllPulls, "")
	require.NoError(t, err)
	assert.Empty(t, traced.Units[0].Readings[0].Holds)
	before := lastEntry(t, d).Number
	assert.Zero(t, f.fit(d).Fits)
	assert.Equal(t, before, lastEntry(t, d).Number, "nothing was entered, so that the guards do not run")
}

func lastEntry(t *testing.T, d *Desk) (last study.Entry) {
	require.NoError(t, d.Log(context.Background(), func(e study.Entry) error { last = e; return nil }))
	return last
}

// What the guard of humidity held in a study of version 5 is released, with that reason. Other holds stay,
// and so do the decisions of a person.
func TestHoldsOfTheGuardOfHumidityAreReleased(t *testing.T) {
	ctx := context.Background()
	data := unpacked(t, "../store/testdata/study-v5-held.wane.gz")
	f := newFolder(t)
	d, err := Open(ctx, f.write("old.wane", string(data)), tester())
	require.NoError(t, err)
	t.Cleanup(func() { require.NoError(t, d.Close()) })
	before, _ := heldIn(t, d)
	require.Len(t, before, 3, "two for humidity, one for that and its certificate")
	fitted := f.fit(d)
	require.Len(t, fitted.Guards.Released, 2)
	for _, j := range fitted.Guards.Released {
		assert.Contains(t, j.Released, "the guard of humidity is gone", "what fit prints, as the log has it")
	}
	after, words := heldIn(t, d)
	assert.Len(t, after, 1)
	assert.Equal(t, map[string]bool{"expired": true}, words)
	require.NoError(t, d.store.View(ctx, func(v *store.View) error {
		said, err := v.Standings()
		require.NoError(t, err)
		for _, n := range []int64{5, 6, 7} {
			require.Len(t, said[n].Released, 1, "reading %d", n)
			assert.Equal(t, "humidity", said[n].Released[0].Row.Guard)
			assert.Contains(t, said[n].Released[0].By.Row.Reason, "the guard of humidity is gone")
		}
		assert.Equal(t, study.Aside, said[8].Standing)
		assert.Empty(t, said[8].Released)
		return nil
	}))
	for _, r := range results(t, d) {
		// Of C1 nothing counts at pull 1, and its row names the session all the same.
		assert.Equal(t, r.Pull == 1, slices.Contains(r.Flags, study.FlagHumid), "%s, pull %v", r.Coupon, r.Pull)
	}
	v, err := d.Verify(ctx, VerifyOptions{})
	require.NoError(t, err)
	assert.True(t, v.Sound(), "%+v", v)
}

package desk

import (
	"context"
	"errors"
	"fmt"
	"math/rand/v2"

	"github.com/stretchr/testify/require"

	"wane/study"
)

// randomWork is random work at a made-up study. What cannot be is refused, and changes nothing.
type randomWork struct {
	folder
	rng   *rand.Rand
	desk  *Desk
	files int
	done  map[string]int // deeds that were not refused
}

var (
	randomCoupons = []string{"E1", "E2", "L1", "C1", "B1", "X1"}
	randomDays    = []string{"2026-01-20", "2026-02-10", "2026-03-01", "2026-04-01", "2026-04-10", "2026-06-30"}
)

func pick[T any](w *randomWork, of ...T) T { return of[w.rng.IntN(len(of))] }

// work enrols coupons, reads them and goes on with random deeds, until so many were not refused.
func (w *randomWork) work(d *Desk, deeds int) {
	w.desk = d
	w.enrol(d, "exposures.csv", exposureHeader+"roof,rack,nowhere,days,2026-01-01\nbox,heat,nowhere,days,\n")
	w.enrol(d, "pulls.csv", pullHeader+"roof,0,0,2026-01-01\nroof,1,90,2026-04-01\nroof,2,180,2026-06-30\n"+
		"box,1,10,2026-02-01\nbox,2,20,2026-04-15\n")
	w.enrol(d, "coupons.csv", "coupon,role,supplier,coating,lot,glass,glass_mm,back,exposure,baseline_pull\n"+
		"E1,exposed,m,K,1,soda-lime,3.2,matched,roof,\nE2,exposed,m,K,1,soda-lime,3.2,matched,roof,\n"+
		"L1,exposed,m,K,2,soda-lime,3.2,matched,roof,1\nX1,exposed,m,K,2,soda-lime,3.2,matched,roof,\n"+
		"C1,control,m,K,1,soda-lime,3.2,matched,,\nB1,blank,,,,soda-lime,3.2,matched,,\n")
	w.registered(d)
	first := sessionMapHeader
	for i, coupon := range []string{"E1", "E2", "C1", "B1"} {
		first += w.sessionExport(coupon, 0, 118, "s0", 1, 0, uint64(i))
	}
	w.takeIn(d, "first-map.csv", first)
	all := []struct {
		name string
		do   func() error
	}{
		{"take in", w.readMore}, {"take in", w.readMore}, {"take in", w.readMore}, {"fit", w.evaluate}, {"fit", w.evaluate},
		{"review", w.review}, {"move", w.move}, {"move", w.move}, {"exchange", w.exchange}, {"amend", w.amend},
		{"amend", w.amend}, {"withdraw", w.withdraw}, {"event", w.event}, {"event", w.event}, {"doses", w.doses},
	}
	for tries := 0; deeds > 0; tries++ {
		require.Less(w.tb, tries, 1000, "%v", w.done)
		deed := all[w.rng.IntN(len(all))]
		err := deed.do()
		var refusal *study.Refusal
		var faults study.Refusals
		switch {
		case err == nil:
			w.done[deed.name]++
			deeds--
		case !errors.As(err, &refusal) && !errors.As(err, &faults):
			require.NoError(w.tb, err)
		}
	}
}

// file writes a table under a new name.
func (w *randomWork) file(text string) string {
	w.files++
	return w.write(fmt.Sprintf("random-%d.csv", w.files), text)
}

func (w *randomWork) readMore() error {
	coupon, pull := pick(w, randomCoupons...), 1+w.rng.IntN(2)
	rows := sessionMapHeader + w.sessionExport(coupon, pull, 90+20*w.rng.Float64(), pick(w, "s1", ""), 1, 0, w.rng.Uint64())
	_, err := w.desk.Intake(context.Background(), w.file(rows), nil, IntakeOptions{Workers: 1})
	return err
}

func (w *randomWork) evaluate() error {
	_, err := w.desk.Fit(context.Background(), FitOptions{Workers: 2})
	return err
}

func (w *randomWork) review() error {
	of := Everything()
	of.Coupons = []string{pick(w, randomCoupons...)}
	of.AngleDeg = pick(w, study.Null(), 60, 8)
	_, err := w.desk.Review(context.Background(), of, pick(w, study.Aside, study.Counted), "made up")
	return err
}

func (w *randomWork) move() error {
	of, to := everythingOf(pick(w, randomCoupons...)), stay()
	of.AngleDeg = pick(w, study.Null(), study.Null(), 45)
	switch w.rng.IntN(5) {
	case 0:
		to.Coupon = pick(w, randomCoupons...)
	case 1:
		to.Spot = pick(w, "1", "2")
	case 2:
		to.Pull = w.rng.IntN(3)
	case 3:
		to.Session = pick(w, "s0", "s1")
	case 4:
		to.AngleDeg = pick(w, study.Num(45), 50)
	}
	_, err := w.desk.Move(context.Background(), of, to, "made up", false)
	return err
}

func (w *randomWork) exchange() error {
	to := stay()
	to.Exchange = []string{pick(w, randomCoupons...), pick(w, randomCoupons...)}
	of := everythingOf(to.Exchange[0])
	of.Coupons = to.Exchange
	_, err := w.desk.Move(context.Background(), of, to, "made up", false)
	return err
}

func (w *randomWork) amend() error {
	coupon := pick(w, randomCoupons...)
	table := pick(w,
		fmt.Sprintf("coupon,lot\n%s,%d\n", coupon, w.rng.IntN(5)),
		fmt.Sprintf("coupon,back\n%s,%s\n", coupon, pick(w, "bare", "matched", "blackened")),
		fmt.Sprintf("coupon,position\n%s,row %d\n", coupon, w.rng.IntN(5)),
		fmt.Sprintf("exposure,pull,dose,date\nroof,1,%d,%s\n", 80+w.rng.IntN(20), pick(w, randomDays...)),
		fmt.Sprintf("exposure,start\nroof,%s\n", pick(w, "2026-01-01", "2026-01-05")),
		fmt.Sprintf("session,humidity_percent\n%s,%d\n", pick(w, "s0", "s1"), 30+w.rng.IntN(60)),
		fmt.Sprintf("session,standard,angle_deg,polarisation,replicate,value\ns0,TILE,8,u,1,%g\n", 0.042+0.0001*w.rng.Float64()))
	_, err := w.desk.Amend(context.Background(), []string{w.file(table)}, "made up", false)
	return err
}

func (w *randomWork) withdraw() error {
	_, err := w.desk.Withdraw(context.Background(), []string{pick(w, "coupon:X1", "coupon:L1", "pull:roof/2",
		"dose_reading:roof/2026-02-10", "session:s1")}, "made up", false)
	return err
}

func (w *randomWork) event() error {
	const header = "coupon,event,pull,exposure,dose,date,by,note,picture\n"
	coupon := pick(w, randomCoupons...)
	kind := pick(w, append(study.EventKinds(), study.EventClean, study.EventStop, study.EventStart, study.EventTransfer)...)
	pull, date, exposure := "", "", ""
	if w.rng.IntN(2) == 0 {
		pull = fmt.Sprint(w.rng.IntN(3))
	} else {
		date = pick(w, randomDays...)
	}
	if kind == study.EventTransfer {
		exposure = pick(w, "box", "roof")
	}
	_, err := w.desk.Enrol(context.Background(), []string{w.file(header +
		fmt.Sprintf("%s,%s,%s,%s,,%s,,,\n", coupon, kind, pull, exposure, date))})
	return err
}

func (w *randomWork) doses() error {
	_, err := w.desk.Enrol(context.Background(), []string{w.file(
		fmt.Sprintf("exposure,date,value,unit\n%s,%s,%d,days\n", pick(w, "roof", "box"), pick(w, randomDays...), w.rng.IntN(40)))})
	return err
}

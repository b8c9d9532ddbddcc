package desk

import (
	"fmt"
	"maps"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"wane/optics"
	"wane/optics/solar"
	"wane/study"
)

// Truth is what a made-up study was made from: solar_T of each unit, a fraction.
type Truth map[study.Unit]float64

// scenario is the made-up study of the demo: three coatings of three makers on a
// roof that does not exist. The film of coating A thins, that of B loses patches,
// that of C holds. Each session at the instrument has its own reference error,
// and an error for each angle; a check standard is read in each.
type scenario struct {
	rng     *rand.Rand
	coupons []demoCoupon
	truth   Truth
	nm      []float64
	solar   []float64 // weights on solarNM
	solarNM []float64
}

const (
	demoSeed  = 20260101
	demoNoise = 0.0003 // of one point, a fraction
)

var (
	demoAngles   = []float64{8, 30, 45, 60}
	demoSpots    = []string{"1", "2"}
	demoDoses    = []float64{0, 90, 180, 365} // days
	demoDates    = []string{"2025-01-10", "2025-04-10", "2025-07-09", "2026-01-10"}
	demoCoatings = []demoCoating{
		// lost per year of exposure: nm of thickness, share of the surface
		{"A", 118, 0.34, 38, 0.004},
		{"B", 119, 0.36, 1.5, 0.11},
		{"C", 121, 0.33, 1.0, 0.003},
	}
)

type demoCoating struct {
	name                string
	thickness, porosity float64 // nm, fraction
	thinning, patches   float64
}

type demoCoupon struct {
	study.Coupon
	film  demoCoating
	rate  float64   // of this coupon over that of its coating
	spots []float64 // thickness of each spot less that of the coating, nm
}

func newScenario() *scenario {
	s := &scenario{rng: rand.New(rand.NewPCG(demoSeed, 1)), truth: Truth{}}
	for nm := 380.0; nm <= 1100; nm += 2 {
		s.nm = append(s.nm, nm)
	}
	for _, c := range demoCoatings {
		for i := range 6 {
			s.add(c, fmt.Sprintf("%s%02d", c.name, i+1), study.Exposed, fmt.Sprintf("%s-lot-%d", c.name, 1+i/3), 1+0.15*s.rng.NormFloat64())
		}
		for i := range 2 {
			s.add(c, fmt.Sprintf("%sK%d", c.name, i+1), study.Control, fmt.Sprintf("%s-lot-%d", c.name, 1+i), 0)
		}
	}
	for i := range 2 {
		s.add(demoCoating{}, fmt.Sprintf("G%02d", i+1), study.Blank, "", 0)
	}
	s.add(demoCoating{}, "G03", study.BlankExposed, "", 1)
	return s
}

func (s *scenario) add(film demoCoating, code string, role study.Role, lot string, rate float64) {
	c := demoCoupon{film: film, rate: rate}
	c.Coupon.Coupon, c.Role, c.Glass, c.Back, c.GlassMM, c.Lot = code, role, "soda-lime", "matched", 3.2, lot
	if role.Coated() {
		c.Supplier, c.Coating = "maker-"+film.name, "coating-"+film.name
	}
	if role == study.Exposed || role == study.BlankExposed {
		c.Exposure = "roof"
	}
	own := 1.5 * s.rng.NormFloat64()
	for range demoSpots {
		c.spots = append(c.spots, own+0.7*s.rng.NormFloat64())
	}
	s.coupons = append(s.coupons, c)
}

// film returns thickness, porosity and bare fraction of a spot at a pull.
func (c *demoCoupon) at(spot, pull int) (thickness, porosity, bare float64) {
	if !c.Role.Coated() {
		return 0, 0, 1
	}
	years := c.rate * demoDoses[pull] / 365
	return max(0, c.film.thickness+c.spots[spot]-c.film.thinning*years), c.film.porosity, max(0, c.film.patches*years)
}

// rosters returns the files besides the exports and the map.
func (s *scenario) rosters() map[string]string {
	return map[string]string{"exposures.csv": exposureRoster, "pulls.csv": pullRoster(), "coupons.csv": s.couponRoster(),
		"instruments.csv": instrumentRoster, "standards.csv": standardRoster, "sessions.csv": sessionRoster()}
}

// exportName returns the name of a coupon's export at a pull, in the folder.
func exportName(c *demoCoupon, pull int) string {
	return fmt.Sprintf("exports/%s-pull%d.csv", c.Coupon.Coupon, pull)
}

// write simulates everything and writes the folder, the mark first: it lists what a
// later demo may replace.
func (s *scenario) write(folder string) error {
	names := append(slices.Sorted(maps.Keys(s.rosters())), demoChecks, "map.csv")
	for pull := range demoDoses {
		for i := range s.coupons {
			names = append(names, exportName(&s.coupons[i], pull))
		}
	}
	if err := put(folder, demoMark, demoNote+strings.Join(names, "\n")+"\n"); err != nil {
		return err
	}
	for name, text := range s.rosters() {
		if err := put(folder, name, text); err != nil {
			return err
		}
	}
	placing, checks := &strings.Builder{}, &strings.Builder{}
	checks.WriteString("session,standard,angle_deg,polarisation,value\n")
	placing.WriteString("file,column,coupon,pull,spot,angle_deg,polarisation,quantity,unit,session,condition\n")
	for pull := range demoDoses {
		session := s.session(pull)
		fmt.Fprintf(checks, "%s,tile-1,8,u,%.5f\n", session.name, session.scale*session.factors[0]*demoTile)
		for i := range s.coupons {
			text, err := s.export(&s.coupons[i], pull, session, placing)
			if err != nil {
				return err
			}
			if err := put(folder, exportName(&s.coupons[i], pull), text); err != nil {
				return err
			}
		}
	}
	if err := put(folder, demoChecks, checks.String()); err != nil {
		return err
	}
	return put(folder, "map.csv", placing.String())
}

// put writes a file of the folder, and the folders that it needs.
func put(folder, name, text string) error {
	path := filepath.Join(folder, name)
	err := os.MkdirAll(filepath.Dir(path), 0o755)
	if err == nil {
		err = os.WriteFile(path, []byte(text), 0o644)
	}
	if err != nil {
		return &study.Refusal{File: folder, Fault: "could not write " + name, Try: "check the folder and the room on the disk, or name another folder", Cause: err}
	}
	return nil
}

const exposureRoster = "exposure,protocol,site,dose_unit,start\nroof,outdoor rack,a roof that does not exist,days,2025-01-10\n"

// demoChecks is the file of the check standard's readings, and demoTile what it reflects.
const (
	demoChecks = "check-readings.csv"
	demoTile   = 0.0423
)

const (
	instrumentRoster = "instrument,serial,kind,cone_deg,slit_nm,join_nm,u_join\nbench-1,made up,two beams,,,,\n"
	standardRoster   = "standard,serial,certificate,issued,expires,quantity,wavelength_nm,angle_deg,polarisation,value,u\n" +
		"tile-1,made up,made up,2024-12-01,2026-12-01,R,550,8,u,0.0423,0.0004\n"
)

func sessionRoster() string {
	var b strings.Builder
	b.WriteString("session,instrument,date,operator,reference,humidity_percent,temperature_c,condition\n")
	for _, date := range demoDates {
		fmt.Fprintf(&b, "%s,bench-1,%s,,,,,cleaned\n", sessionOn(date), date)
	}
	return b.String()
}

func sessionOn(date string) string { return "session-" + date }

func pullRoster() string {
	var b strings.Builder
	b.WriteString("exposure,pull,dose,date\n")
	for i, dose := range demoDoses {
		fmt.Fprintf(&b, "roof,%d,%g,%s\n", i, dose, demoDates[i])
	}
	return b.String()
}

func (s *scenario) couponRoster() string {
	var b strings.Builder
	b.WriteString("coupon,role,supplier,coating,lot,glass,glass_mm,back,exposure\n")
	for i := range s.coupons {
		c := &s.coupons[i].Coupon
		fmt.Fprintf(&b, "%s,%s,%s,%s,%s,%s,%g,%s,%s\n", c.Coupon, c.Role, c.Supplier, c.Coating, c.Lot, c.Glass, float64(c.GlassMM), c.Back, c.Exposure)
	}
	return b.String()
}

// demoSession is a sitting at the instrument, with its errors.
type demoSession struct {
	name    string
	scale   float64
	factors []float64
}

func (s *scenario) session(pull int) demoSession {
	d := demoSession{name: sessionOn(demoDates[pull]), scale: 1 + 0.006*s.rng.NormFloat64()}
	for range demoAngles {
		d.factors = append(d.factors, 1+0.003*s.rng.NormFloat64())
	}
	return d
}

// export simulates one file, all spots and angles of a coupon at a pull, adds its
// rows to the map and its truth to the scenario.
func (s *scenario) export(c *demoCoupon, pull int, session demoSession, placing *strings.Builder) (text string, err error) {
	var b strings.Builder
	fmt.Fprintf(&b, "Made-up export of wane demo\nSession: %s\n\nWavelength (nm)", session.name)
	var columns [][]float64
	for k, spot := range demoSpots {
		thickness, porosity, bare := c.at(k, pull)
		if s.truth[study.Unit{Coupon: c.Coupon.Coupon, Pull: pull, Spot: spot, Condition: "cleaned"}], err = s.solarT(thickness, porosity, bare); err != nil {
			return "", err
		}
		for i, angle := range demoAngles {
			r, err := reflectance(s.nm, angle, thickness, porosity, bare)
			if err != nil {
				return "", err
			}
			for j := range r {
				r[j] = session.scale*session.factors[i]*r[j] + demoNoise*s.rng.NormFloat64()
			}
			columns = append(columns, r)
			fmt.Fprintf(&b, ",spot %s %g deg %%R", spot, angle)
			fmt.Fprintf(placing, "%s,#%d,%s,%d,%s,%g,u,R,percent,%s,cleaned\n", exportName(c, pull), len(columns)+1, c.Coupon.Coupon, pull, spot, angle, session.name)
		}
	}
	b.WriteString("\n")
	for j, nm := range s.nm {
		fmt.Fprintf(&b, "%g", nm)
		for _, r := range columns {
			fmt.Fprintf(&b, ",%.4f", 100*r[j])
		}
		b.WriteString("\n")
	}
	return b.String(), nil
}

// solarT is 1 - the weighted reflectance at normal incidence.
func (s *scenario) solarT(thickness, porosity, bare float64) (float64, error) {
	if s.solar == nil {
		var err error
		s.solarNM = solar.Grid(300, 2500)
		if s.solar, _, err = solar.Weights(s.solarNM, 300, 2500, solar.Energy); err != nil {
			return 0, err
		}
	}
	r, err := reflectance(s.solarNM, 0, thickness, porosity, bare)
	if err != nil {
		return 0, err
	}
	mean := 0.0
	for i, w := range s.solar {
		mean += w * r[i]
	}
	return 1 - mean, nil
}

// reflectance is that of the patchy front of soda-lime glass, by the general
// stack of optics, which fits do not use.
func reflectance(nm []float64, angle, thickness, porosity, bare float64) ([]float64, error) {
	glass, _, err := optics.Stack{Substrate: optics.SodaLime()}.RT(nil, nil, nm, angle, optics.U)
	if err != nil || bare == 1 {
		return glass, err
	}
	n, k := make([]float64, len(nm)), make([]float64, len(nm))
	for i, lambda := range nm {
		solid, err := optics.FusedSilica().At(lambda)
		if err != nil {
			return nil, err
		}
		n[i] = math.Sqrt(real(optics.Bruggeman.Mix(solid*solid, 1, porosity)))
	}
	index, err := optics.Table("porous silica", nm, n, k)
	if err != nil {
		return nil, err
	}
	stack := optics.Stack{Films: []optics.Film{{Index: index, ThicknessNM: thickness}}, Substrate: optics.SodaLime()}
	r, _, err := stack.RT(nil, nil, nm, angle, optics.U)
	if err != nil {
		return nil, err
	}
	for i := range r {
		r[i] = (1-bare)*r[i] + bare*glass[i]
	}
	return r, nil
}

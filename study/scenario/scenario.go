// Package scenario makes up studies: the truth, and the rosters, the map and the exports
// that a lab would have of it. What is tried out on them is tried on known films.
package scenario

import (
	"fmt"
	"maps"
	"math"
	"math/rand/v2"
	"slices"
	"strings"

	"wane/optics"
	"wane/optics/solar"
	"wane/study"
)

// Truth is what a made-up study was made from: solar_T of each unit, a fraction.
type Truth map[study.Unit]float64

// Scenario is the made-up study of the demo: three coatings of three makers on a
// roof that does not exist. The film of coating A thins, that of B loses patches,
// that of C holds. Each session at the instrument has its own reference error,
// and an error for each angle; a check standard is read in each.
type Scenario struct {
	rng     *rand.Rand
	coupons []demoCoupon
	truth   Truth
	nm      []float64
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

// NewScenario returns the scenario, always the same.
func NewScenario() *Scenario {
	s := &Scenario{rng: rand.New(rand.NewPCG(demoSeed, 1)), truth: Truth{}}
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

func (s *Scenario) add(film demoCoating, code string, role study.Role, lot string, rate float64) {
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

// at returns the surface of a spot at a pull.
func (c *demoCoupon) at(spot, pull int) Surface {
	if !c.Role.Coated() {
		return Surface{Bare: 1}
	}
	years := c.rate * demoDoses[pull] / 365
	return Surface{max(0, c.film.thickness+c.spots[spot]-c.film.thinning*years), c.film.porosity, max(0, c.film.patches*years)}
}

// rosters returns the files besides the exports and the map.
func (s *Scenario) rosters() map[string]string {
	return map[string]string{"exposures.csv": exposureRoster, "pulls.csv": pullRoster(), "coupons.csv": s.couponRoster(),
		"instruments.csv": instrumentRoster, "standards.csv": standardRoster, "sessions.csv": sessionRoster()}
}

// exportName returns the name of a coupon's export at a pull.
func exportName(c *demoCoupon, pull int) string {
	return fmt.Sprintf("exports/%s-pull%d.csv", c.Coupon.Coupon, pull)
}

// MapName is the file that says where the curves of the exports belong.
const MapName = "map.csv"

// Tables returns the names of the files to enrol.
func (s *Scenario) Tables() []string {
	return append(slices.Sorted(maps.Keys(s.rosters())), demoChecks)
}

// Files returns the names of all files, in which / parts folders.
func (s *Scenario) Files() []string {
	names := append(s.Tables(), MapName)
	for pull := range demoDoses {
		for i := range s.coupons {
			names = append(names, exportName(&s.coupons[i], pull))
		}
	}
	return names
}

// Write simulates everything and hands each file to put. It returns the truth.
func (s *Scenario) Write(put func(name, text string) error) (Truth, error) {
	rosters := s.rosters()
	for _, name := range slices.Sorted(maps.Keys(rosters)) {
		if err := put(name, rosters[name]); err != nil {
			return nil, err
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
				return nil, err
			}
			if err := put(exportName(&s.coupons[i], pull), text); err != nil {
				return nil, err
			}
		}
	}
	if err := put(demoChecks, checks.String()); err != nil {
		return nil, err
	}
	return s.truth, put(MapName, placing.String())
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

func (s *Scenario) couponRoster() string {
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

func (s *Scenario) session(pull int) demoSession {
	d := demoSession{name: sessionOn(demoDates[pull]), scale: 1 + 0.006*s.rng.NormFloat64()}
	for range demoAngles {
		d.factors = append(d.factors, 1+0.003*s.rng.NormFloat64())
	}
	return d
}

// export simulates one file, all spots and angles of a coupon at a pull, adds its
// rows to the map and its truth to the scenario.
func (s *Scenario) export(c *demoCoupon, pull int, session demoSession, placing *strings.Builder) (text string, err error) {
	var b strings.Builder
	fmt.Fprintf(&b, "Made-up export of wane demo\nSession: %s\n\nWavelength (nm)", session.name)
	var columns [][]float64
	for k, spot := range demoSpots {
		surface, unit := c.at(k, pull), study.Unit{Coupon: c.Coupon.Coupon, Pull: pull, Spot: spot, Condition: "cleaned"}
		if s.truth[unit], err = surface.SolarT(); err != nil {
			return "", err
		}
		for i, angle := range demoAngles {
			r, err := surface.Reflectance(s.nm, angle)
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

// Surface is the front of soda-lime glass with a film of porous silica on it.
type Surface struct {
	ThicknessNM    float64
	Porosity, Bare float64 // shares: of the film's volume, of the surface without film
}

// SolarT returns the solar transmittance, a fraction: 1 less the mean reflectance at normal
// incidence, weighted by the energy of AM1.5 global from 300 to 2500 nm.
func (s Surface) SolarT() (float64, error) {
	nm := solar.Grid(300, 2500)
	weights, _, err := solar.Weights(nm, 300, 2500, solar.Energy)
	if err != nil {
		return 0, err
	}
	r, err := s.Reflectance(nm, 0)
	if err != nil {
		return 0, err
	}
	mean := 0.0
	for i, w := range weights {
		mean += w * r[i]
	}
	return 1 - mean, nil
}

// Reflectance returns that of unpolarised light at an angle in degrees, a fraction for each
// wavelength in nm, by the general stack of optics, which fits do not use.
func (s Surface) Reflectance(nm []float64, angleDeg float64) ([]float64, error) {
	glass, _, err := optics.Stack{Substrate: optics.SodaLime()}.RT(nil, nil, nm, angleDeg, optics.U)
	if err != nil || s.Bare == 1 {
		return glass, err
	}
	n, k := make([]float64, len(nm)), make([]float64, len(nm))
	for i, lambda := range nm {
		solid, err := optics.FusedSilica().At(lambda)
		if err != nil {
			return nil, err
		}
		n[i] = math.Sqrt(real(optics.Bruggeman.Mix(solid*solid, 1, s.Porosity)))
	}
	index, err := optics.Table("porous silica", nm, n, k)
	if err != nil {
		return nil, err
	}
	stack := optics.Stack{Films: []optics.Film{{Index: index, ThicknessNM: s.ThicknessNM}}, Substrate: optics.SodaLime()}
	r, _, err := stack.RT(nil, nil, nm, angleDeg, optics.U)
	if err != nil {
		return nil, err
	}
	for i := range r {
		r[i] = (1-s.Bare)*r[i] + s.Bare*glass[i]
	}
	return r, nil
}

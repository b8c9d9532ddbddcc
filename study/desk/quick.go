package desk

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"strings"

	"wane/fit"
	"wane/fit/film"
	"wane/optics"
	"wane/study"
	"wane/study/evaluate"
	"wane/study/intake/sheet"
	"wane/study/intake/source"
)

// UsageError says that what a person asks for cannot be, whatever the files hold: wrong usage.
// Fault and Try are in the words of a [study.Refusal].
type UsageError struct{ Fault, Try string }

func (e *UsageError) Error() string { return e.Fault }

func usagef(try, format string, args ...any) error {
	return &UsageError{Fault: fmt.Sprintf(format, args...), Try: try}
}

// Pane is the glass behind a film, and the rule by which the film's index is mixed.
type Pane struct {
	Glass   string // a name of evaluate.GlassNames, a formula of evaluate.Formula, or the path of a table wavelength_nm,n,k
	GlassMM float64
	Back    optics.Back
	Return  string // the path of the return spectrum of a laminated far face, wavelength_nm,return; else empty
	Mixing  optics.Mixing
}

// mostGlassMM is the thickness in mm above which a number is taken for a slip.
const mostGlassMM = 1000

// Setup returns the setup of spots on such a pane. It reads the table of the glass. What the
// pane lacks is a [*UsageError].
func (p *Pane) Setup() (*evaluate.Setup, error) {
	if !(p.GlassMM >= 0 && p.GlassMM <= mostGlassMM) {
		return nil, usagef(fmt.Sprintf("give a number of mm up to %d, or leave the flag out", mostGlassMM),
			"--glass-mm %g is not a thickness", p.GlassMM)
	}
	if (p.Back == optics.Bare || p.Back == optics.Coated) && p.GlassMM == 0 {
		return nil, usagef("give it in mm, for example --glass-mm 3.2",
			"--back %s needs the thickness of the glass", p.Back)
	}
	if laminated := p.Back == optics.Laminated; laminated != (p.Return != "") {
		if laminated {
			return nil, usagef("give the share of light that comes back from the laminate: --return-spectrum FILE, "+
				"a CSV file wavelength_nm,return", "--back laminated needs its return spectrum")
		}
		return nil, usagef("leave it out, or state --back laminated",
			"--return-spectrum is for a laminated far face, and --back is %v", p.Back)
	}
	name := study.GlassName(p.Glass)
	index, err := loadGlass(name)
	if err != nil {
		return nil, err
	}
	glass := film.Glass{Index: index, UIndex: evaluate.GlassUncertainty(name), ThicknessMM: p.GlassMM, Back: p.Back,
		ULoss: evaluate.LossUncertainty(name)}
	if p.Return != "" {
		if glass.Return, err = loadReturn(p.Return); err != nil {
			return nil, err
		}
	}
	return &evaluate.Setup{Glass: glass, Coating: film.Coating{Mixing: p.Mixing}}, nil
}

// Evaluator returns the evaluator of a setup on the pane. A refusal of the glass names its table.
func (p *Pane) Evaluator(setup *evaluate.Setup) (*evaluate.Evaluator, error) {
	e, err := evaluate.NewEvaluator(*setup)
	var r *study.Refusal
	if errors.As(err, &r) && r.File == "" && isGlassTable(p.Glass) {
		return nil, r.At(p.Glass, r.Line)
	}
	return e, err
}

// isGlassTable reports whether a glass is named by the path of its table.
func isGlassTable(glass string) bool {
	return strings.ContainsAny(glass, "./") && !evaluate.IsFormula(glass)
}

// loadGlass returns a glass by its name, or from a table in a file.
func loadGlass(name string) (optics.Index, error) {
	index, known, err := evaluate.GlassIndex(name)
	var r *study.Refusal
	if errors.As(err, &r) {
		return index, usagef(r.Try, "--glass: %s", r.Fault)
	}
	if known || err != nil {
		return index, err
	}
	if !isGlassTable(name) {
		return optics.Index{}, usagef("use one of them, a formula such as cauchy:1.51,0.0042, or a CSV file wavelength_nm,n,k",
			"there is no glass %q; known are %s", name, strings.Join(evaluate.GlassNames(), ", "))
	}
	data, err := source.ReadFile(name)
	if err != nil {
		return optics.Index{}, err
	}
	t, err := sheet.ReadGlass(name, data)
	if err != nil {
		return optics.Index{}, err
	}
	index, err = optics.Table(name, t.NM, t.N, t.K)
	var domain *optics.DomainError
	if errors.As(err, &domain) {
		return index, &study.Refusal{
			File: name, Line: domain.At + 2,
			Fault: fmt.Sprintf("%s is %g: it must be %s", domain.Quantity, domain.Value, domain.Want),
			Try:   "correct the table: wavelengths in nm that rise, n above 0, k at least 0",
		}
	}
	return index, err
}

// loadReturn returns the return spectrum in a file.
func loadReturn(path string) (optics.Share, error) {
	s, err := readReturn(path)
	if err != nil {
		return optics.Share{}, err
	}
	return evaluate.NewReturn(s)
}

// QuickOptions are what a person states of a one-off evaluation.
type QuickOptions struct {
	Pane
	Texture    bool    // rolled glass
	Geometry   string  // of study.Geometries; empty: specular
	HalfAngle  float64 // of a mixed geometry, degrees; 0: not stated
	Instrument film.Instrument
	Masks      []film.Window
	NoiseSD    float64 // of one point, a fraction; 0: found from the readings
	Loss       fit.Loss
	Structures bool // each structure of the film is fitted by itself, too
	Pins       film.Pins

	BaselineNM float64 // thickness before exposure; 0: not known

	AnglesDeg    []float64 // none, one for all curves, or one for each in the order of files and columns
	Polarisation string    // s, p, u or n; empty: what headings say, else u

	OneSpot, Each bool // all files are one spot; each file is one
	Replicates    bool // curves of a spot at one angle and polarisation are repeated scans

	// What is asked for beside the result; Structures is one more.
	Intervals  string  // one of evaluate.IntervalMethods; empty: none
	Level      float64 // of the intervals, such as 0.95
	Budget     bool
	PoreWater  study.Stated // share of the pores that water filled when the curves were read
	UPoreWater study.Stated // its standard uncertainty; by default PoreWater/√3, as if 0 to twice as much were possible
	Influence  bool
}

// Quick evaluates exports by themselves: no study is needed and nothing is stored.
//
// [NewQuick] checks what is stated, [Quick.Read] reads the files, and [Quick.Fit] fits each of
// the spots that it returns.
type Quick struct {
	opt       QuickOptions
	files     []string
	setup     *evaluate.Setup
	evaluator *evaluate.Evaluator // nil until the first fit
}

// mostBaselineNM is the thickness in nm above which a number is taken for a slip.
const mostBaselineNM = 10000

// NewQuick checks what is stated of an evaluation of files, before any of them is read. What
// cannot be is a [*UsageError].
func NewQuick(files []string, opt QuickOptions) (*Quick, error) {
	q := &Quick{opt: opt, files: files}
	if err := q.checkSpots(); err != nil {
		return nil, err
	}
	if !(opt.BaselineNM >= 0 && opt.BaselineNM <= mostBaselineNM) {
		return nil, usagef(fmt.Sprintf("give a number of nm up to %d, or leave the flag out", mostBaselineNM),
			"--baseline-thickness %g is not a thickness", opt.BaselineNM)
	}
	var err error
	if q.setup, err = opt.Setup(); err != nil {
		return nil, err
	}
	if err := q.addMethod(); err != nil {
		return nil, err
	}
	return q, q.checkExtras()
}

// checkSpots refuses files if nothing states whether they are one spot.
func (q *Quick) checkSpots() error {
	switch {
	case len(q.files) == 0:
		return usagef("name at least one file: wane quick G07.csv --back matched", "no export is given")
	case q.opt.OneSpot && q.opt.Each:
		return usagef("choose one of them", "--one-spot makes one row from all files; --each makes one row from each file")
	case len(q.files) > 1 && !q.opt.OneSpot && !q.opt.Each:
		return usagef("state --one-spot if all curves are of one spot of one coupon, or --each for one row a file",
			"%d files are given, and it is not stated whether they are of one spot", len(q.files))
	}
	return nil
}

// addMethod puts what is stated of the fit and of the instrument into the setup.
func (q *Quick) addMethod() error {
	if !(q.opt.NoiseSD >= 0 && q.opt.NoiseSD < 1) {
		return usagef("give a fraction, for example --noise 0.0005, or leave the flag out",
			"--noise %g is not the noise of a reflectance", q.opt.NoiseSD)
	}
	s := q.setup
	s.Texture, s.Instrument, s.Masks = q.opt.Texture, q.opt.Instrument, q.opt.Masks
	s.Loss, s.Structures = q.opt.Loss, q.opt.Structures
	s.Water = q.opt.water()
	var bad *film.InputError
	if err := film.CheckInstrument(&s.Instrument); errors.As(err, &bad) {
		return usagef(bad.Try, "%s", bad.Fault)
	} else if err != nil {
		return err
	}
	if err := q.addGeometry(); err != nil {
		return err
	}
	if err := q.opt.Pins.Check(s.Coating); errors.As(err, &bad) {
		return usagef(bad.Try, "--pin: %s", bad.Fault)
	} else if err != nil {
		return err
	}
	return nil
}

// water returns what is declared of water in the pores.
func (o *QuickOptions) water() film.Water {
	share := o.PoreWater.Value
	if !o.UPoreWater.Is {
		return film.Water{Share: share, UShare: min(share/math.Sqrt(3), mostUPoreWater)}
	}
	return film.Water{Share: share, UShare: o.UPoreWater.Value}
}

// addGeometry puts what the geometry of the readings means into the setup.
func (q *Quick) addGeometry() error {
	opt, s := &q.opt, q.setup
	mixed := opt.Geometry == study.MixedGeometry
	switch {
	case opt.Geometry == study.TotalExcluded:
		return usagef("give specular or total_included readings",
			"--geometry total_excluded: a smooth film reflects in the mirror direction only, which this geometry leaves out")
	case opt.Geometry == study.TotalIncluded && opt.Texture:
		return usagef("leave --texture out", "--texture is for light that facets send past the detector, and a sphere loses none")
	case mixed && !(opt.HalfAngle > 0 && opt.HalfAngle < 90):
		return usagef("give the half-angle in degrees within which light is collected: --half-angle-deg 10",
			"--geometry mixed needs a half-angle above 0 and below 90 degrees")
	case mixed && opt.HalfAngle < s.Instrument.ConeDeg:
		return usagef("correct one of them", "a half-angle of %g degrees does not collect all of a beam whose cone has %g",
			opt.HalfAngle, s.Instrument.ConeDeg)
	case !mixed && opt.HalfAngle != 0:
		return usagef("leave it out, or state --geometry mixed", "--half-angle-deg belongs to --geometry mixed")
	}
	c := evaluate.Conditions{Instrument: s.Instrument}.In(opt.Geometry)
	*s = c.Under(*s)
	return nil
}

// checkExtras refuses intervals and budgets that cannot be made.
func (q *Quick) checkExtras() error {
	opt := &q.opt
	wet := opt.water() != film.Water{}
	switch {
	case opt.Intervals != "" && !slices.Contains(evaluate.IntervalMethods(), opt.Intervals):
		return usagef("use one of "+strings.Join(evaluate.IntervalMethods(), ", "),
			"there are no intervals by %q", opt.Intervals)
	case opt.Intervals != "" && !(opt.Level > 0 && opt.Level < 1):
		return usagef("give for example --level 0.95", "--level %g is not between 0 and 1", opt.Level)
	case !(opt.PoreWater.Value >= 0 && opt.PoreWater.Value <= 1):
		return usagef(shareRemedy("pore-water", opt.PoreWater.Value, 1), "--pore-water %g is not a share of the pores",
			opt.PoreWater.Value)
	case !(opt.UPoreWater.Value >= 0 && opt.UPoreWater.Value <= mostUPoreWater):
		return usagef(shareRemedy("u-pore-water", opt.UPoreWater.Value, mostUPoreWater),
			"--u-pore-water %g is not a standard uncertainty of a share of the pores", opt.UPoreWater.Value)
	case opt.UPoreWater.Is && !opt.PoreWater.Is:
		return usagef("add --pore-water, or leave --u-pore-water out", "--u-pore-water is of --pore-water, which is not given")
	case wet && opt.Intervals != "":
		return usagef("leave one of them out", "--intervals are of the film as it was read, and --pore-water dries it")
	}
	if _, pinned := opt.Pins[film.Porosity]; pinned && wet {
		return usagef("leave one of them out", "--pin porosity fixes what --pore-water changes")
	}
	return nil
}

// shareRemedy says how to state a share up to most: as what was given in percent, where that can be.
func shareRemedy(flag string, given, most float64) string {
	if given > 1 && given <= 100*most {
		return fmt.Sprintf("if that is percent, write --%s %.6g", flag, given/100)
	}
	return fmt.Sprintf("give a share from 0 to %g, for example --%s 0.1", most, flag)
}

// mostUPoreWater is that of a share of which nothing is known: evenly from 0 to 1.
const mostUPoreWater = 0.29

// readReturn reads a return spectrum from a file.
func readReturn(path string) (*study.ReturnSpectrum, error) {
	data, err := source.ReadFile(path)
	if err != nil {
		return nil, err
	}
	return sheet.ReadReturnSpectrum(path, data)
}

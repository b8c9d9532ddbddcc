package foreign

// Dial says by what a surface loses.
type Dial int

const (
	Unchanged Dial = iota // the surface at every pull is that of pull 0, exactly
	Thinning              // the film gets thinner
	Patching              // the bare fraction grows
)

// Loss is how true changes are drawn. The change of SolarT of a spot at a pull is, in pp,
//
//	MeanPP x pull x lot x coupon x spot
//
// with lognormal factors of mean 1 and the coefficients of variation given, so that MeanPP x pull
// is exactly the mean of the population; the surface is then found that has this change.
type Loss struct {
	By                      Dial
	MeanPP                  float64 // at pull 1; negative
	LotCV, CouponCV, SpotCV float64

	ControlMeanPP float64 // of controls, by the same dial; 0: they do not change
	ControlCV     float64
}

// Plan is a small study. Counts are of each supplier unless it says otherwise.
type Plan struct {
	Setup     Setup
	Glass     string
	Suppliers int // each with a coating and a glass batch of its own
	Lots      int
	Coupons   int // exposed, of each lot
	Spots     int // of each exposed coupon

	Controls, ControlSpots int // of the first lots, in turn
	Blanks                 int // kept in the dark; one spot each

	Pulls     int // after pull 0; one session a pull
	LightTrap bool

	Film
	Loss Loss
}

// Film is the film at pull 0: drawn for the coating, and its scatter (normal, standard
// deviations) between lots, coupons and spots.
type Film struct {
	ThicknessNM, Porosity, BareEffect            Effect
	LotThickness, CouponThickness, SpotThickness float64
	LotPorosity, CouponPorosity, SpotPorosity    float64
}

// StandardFilm returns films of about 112 nm whole from edge to edge.
func StandardFilm() Film {
	return Film{
		ThicknessNM: Effect{Even, 112, 8}, Porosity: Effect{Even, 0.36, 0.04},
		LotThickness: 3, CouponThickness: 2, SpotThickness: 1,
		LotPorosity: 0.008, CouponPorosity: 0.005, SpotPorosity: 0.003,
	}
}

// StandardPlan returns one supplier with one exposed coupon of one spot, two controls of two
// spots each and one dark blank, read at pulls 0 and 1, of which nothing changes.
func StandardPlan() Plan {
	return Plan{
		Setup: Standard(), Glass: SodaLime,
		Suppliers: 1, Lots: 1, Coupons: 1, Spots: 1, Controls: 2, ControlSpots: 2, Blanks: 1, Pulls: 1,
		Film: StandardFilm(),
	}
}

// GroupPlan returns two suppliers with two lots of four exposed coupons, two spots each, two
// controls of two spots and one dark blank a supplier, thinning by 0.5 pp at pull 1.
func GroupPlan() Plan {
	p := StandardPlan()
	p.Suppliers, p.Lots, p.Coupons, p.Spots = 2, 2, 4, 2
	p.Loss = Loss{By: Thinning, MeanPP: -0.5, LotCV: 0.1, CouponCV: 0.2, SpotCV: 0.1}
	return p
}

// Coupon is a row of the study's register, with what the coupon truly is.
type Coupon struct {
	Code, Role, Supplier, Coating, Lot, Glass, Back string // blanks: no supplier, coating, lot
	GlassBatch                                      string
	Pane                                            Pane
}

// Reading is the curves of one spot at one pull, and the surface that they were taken of.
type Reading struct {
	Coupon    string
	Pull      int
	Spot      string
	Session   string
	Surface   Surface
	Truth     Truth
	Placement Placement
	Curves    []Curve
}

// Change is what truly happened to a spot, or to a coupon (the mean of its spots: Spot empty),
// from pull 0 to a pull.
type Change struct {
	Coupon, Spot         string
	Pull                 int
	ChangePP, CellPP     float64 // of SolarT and CellT
	CorrectedPP          float64 // ChangePP less the mean change of the controls of its coating
	CellCorrectedPP      float64
	GainKept             float64 // against the glass of pull 0
	MaterialNM, Material float64 // change of material left, and what is left
}

// Group is the true mean change of a coating at a pull, in pp of SolarT. Under a law that soils,
// PopulationPP and LotsPP include the mean effect of the soil on this study's coupons.
type Group struct {
	Supplier, Coating string
	Pull              int
	PopulationPP      float64 // of all coupons of all lots that might be
	LotsPP            float64 // of all coupons of these lots
	CouponsPP         float64 // of these coupons
	ControlsPP        float64 // unweighted mean of these controls; 0 without any
}

// SessionRun is a session of the study.
type SessionRun struct {
	Code      string
	Pull      int
	Session   Session
	LightTrap []Curve // one an angle, where the plan asks for them: the session's zero alone, with noise
}

// Study is what a plan turned out to be: coupons, sessions and readings in the order in which
// they are made, and the truth about them.
type Study struct {
	Plan          Plan
	Coupons       []Coupon
	Sessions      []SessionRun
	Readings      []Reading
	Changes       []Change // of each coated spot at each later pull
	CouponChanges []Change // of each coated coupon
	Groups        []Group
}

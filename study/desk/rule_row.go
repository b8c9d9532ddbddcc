package desk

import (
	"wane/study"
	"wane/study/acceptance"
)

// VerdictRow is a verdict as it is printed and kept. Losses, and what is compared with them, are in Unit.
type VerdictRow struct {
	Rule         string    `json:"rule"`
	Group        string    `json:"group"`
	Verdict      string    `json:"verdict"` // accept, reject or undecided
	Quantity     string    `json:"quantity"`
	Limit        float64   `json:"limit"`
	N            int       `json:"n"`
	Worst        study.Num `json:"worst"`
	Mean         study.Num `json:"mean"`
	Lower        study.Num `json:"lower"` // of a 95 % interval of the mean
	Upper        study.Num `json:"upper"`
	Share        study.Num `json:"share"`
	Confidence   study.Num `json:"confidence"`
	AfterTheFact bool      `json:"after_the_fact"`
	Why          string    `json:"why"`

	Unit        string    `json:"unit"`
	Weighting   string    `json:"weighting"`
	Exposure    string    `json:"exposure"`
	Dose        float64   `json:"dose"`
	DoseUnit    string    `json:"dose_unit"`
	Passed      int       `json:"passed"`
	Straddling  int       `json:"straddling"`
	Failed      int       `json:"failed"`
	Lost        int       `json:"lost"`
	Missing     int       `json:"missing"`
	NotCounted  int       `json:"not_counted"`
	Lots        []string  `json:"lots"`
	MeanDoF     study.Num `json:"df"`
	Looks       int       `json:"looks"`
	Void        bool      `json:"void"`
	DecidingU   study.Num `json:"u_that_decides"`
	NewN        int       `json:"new_n"`
	NewFailures int       `json:"new_failures"`

	// By methods that take losses as normally distributed; they stand beside the verdict.
	NormalFactor   study.Num `json:"normal_factor"`
	NormalBound    study.Num `json:"normal_bound"`
	NormalQuality  study.Num `json:"normal_quality"`
	NormalBeyond   study.Num `json:"normal_beyond"`
	NormalConsumer study.Num `json:"normal_consumer_risk"`
	NormalProducer study.Num `json:"normal_producer_risk"`

	DataLine int64    `json:"data_line"`  // the last one of the log when it was judged
	Fixed    string   `json:"rule_added"` // the day of the rule
	Notes    []string `json:"notes"`
	Sentence string   `json:"sentence"` // that a purchaser may quote
}

// verdictRow returns the row of a judgement on data up to a line of the log.
func verdictRow(s *RuleState, j *acceptance.Judgement, line int64) VerdictRow {
	num := func(x float64) study.Num { return study.Num(x) }
	r := VerdictRow{
		Rule: s.Name, Group: j.Group, Verdict: string(j.Verdict), Quantity: s.Quantity, Limit: s.Limit, N: j.N,
		Worst: num(j.Worst), Mean: num(j.Mean), Lower: num(j.Lower), Upper: num(j.Upper), Share: num(s.Share),
		Confidence: num(j.Confidence), AfterTheFact: j.AfterTheFact, Why: j.Why,
		Unit: s.Unit, Weighting: s.Weighting, Exposure: s.Exposure, Dose: s.Dose, DoseUnit: s.DoseUnit,
		Passed: j.Passed, Straddling: j.Straddling, Failed: j.Failed, Lost: j.Lost, Missing: j.Missing, NotCounted: j.Excused,
		Lots: j.Lots, MeanDoF: num(j.MeanDoF), Looks: j.Looks, Void: j.Void, DecidingU: study.Null(),
		NewN: j.NewCoupons, NewFailures: j.NewFailures,
		NormalFactor: num(j.Normal.Factor), NormalBound: num(j.Normal.Bound), NormalQuality: num(j.Normal.Quality),
		NormalBeyond: num(j.Normal.Beyond), NormalConsumer: num(j.Normal.Consumer), NormalProducer: num(j.Normal.Producer),
		DataLine: line, Fixed: s.Fixed(), Notes: j.Notes, Sentence: j.Sentence(s.Fixed(), s.DoseUnit),
	}
	if j.DecidingU > 0 {
		r.DecidingU = num(j.DecidingU)
	}
	return r
}

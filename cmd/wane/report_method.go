package main

import (
	"fmt"
	"slices"
	"strings"

	"wane/study"
	"wane/study/ageing"
	"wane/study/report/document"
	"wane/study/shown"
)

// routeName says how a study corrects changes.
func routeName(route study.Route) string {
	switch route {
	case study.RouteControls:
		return "controls: less the mean change of the controls of the same coating"
	case study.RouteSession:
		return "session: one fit of each session, and less the mean change of the controls"
	}
	return "none: changes are as measured"
}

// methodPart says in plain words how the numbers are made.
func methodPart(w *reporter) (document.Part, error) {
	p := document.Part{Name: "method", Title: "Method and formulas"}
	p.Blocks = []document.Block{
		document.Heading("From readings to the film"),
		document.Text("Reflectance (and transmittance, where it was read) of a spot at all its angles is fitted together: " +
			"light on a porous film on glass, of which thickness, porosity and the bare fraction of the spot are free, by " +
			"least squares with bounds. What may be off in a reading (the reference, stray light, how the coupon lay, the " +
			"glass, the beam) is a parameter with a prior of its own, so that it enters the uncertainty. The index of the " +
			"film follows from porosity by the mixing rule " + w.of.Settings.Mixing + "."),
		document.Text("Solar transmittance is that of the front surface at normal incidence, of the fitted film, weighted " +
			"by the energy of ASTM G173-03 global tilt from 300 to 2500 nm. Where no transmittance was read, the film is " +
			"taken as lossless."),
		document.Formula("T = ∫ E(λ) T(λ) dλ / ∫ E(λ) dλ      E: sunlight, 300 to 2500 nm"),
		document.Heading("Changes"),
		document.Text("A change is against pull 0 of the same spot, in percentage points (pp); gain is over the bare " +
			"surface of the same glass. This study corrects by: " + routeName(w.of.Settings.Correction) + "."),
	}
	formulas := []string{"change = 100 · (T - T at pull 0)", "gain kept = 1 + change / gain at pull 0"}
	if w.of.Settings.Correction != study.RouteNone {
		formulas = slices.Insert(formulas, 1, "corrected change = change - mean change of the controls")
	}
	p.Blocks = append(p.Blocks, document.Formula(strings.Join(formulas, "\n")),
		document.Heading("Uncertainty"),
		document.Text("Each result keeps how it moves with every error that may be behind it: of its session, its "+
			"placement, its glass, its coating, its instrument. What two results share cancels or adds as it does in truth, "+
			"and counts once. No variance is added by hand."),
		document.Formula("cov(i, j) = Σ a(i, k) · a(j, k)      over the errors k of both\n"+
			"u²(Σ v(i) · result(i)) = Σ (Σ v(i) · a(i, k))² + own noise"),
		document.Text("The coupon is the unit: its spots are averaged and are no replicates. The interval of a group is a "+
			"t interval of the scatter between its coupons, with the variance of what they share added and the degrees of "+
			"freedom by Welch and Satterthwaite. Each group has a scatter of its own."),
		document.Formula("mean ± t(0.975, df) · se,   se² = s² / n + variance of what the coupons share"),
		document.Heading("Comparisons, rates and verdicts"),
		document.Text("Groups are compared by their means at a pull, each with a scatter of its own and degrees of freedom "+
			"by Welch and Satterthwaite. The unit is the mean of a lot where a group has three lots or more, else the coupon; "+
			"the verdict then speaks of these lots. Intervals hold for all pairs together, by the largest of the correlated t "+
			"statistics; an exact permutation stands beside, with the least p that it can have. Rates are of a mixed model "+
			"with coupons, lots and sessions, by restricted maximum likelihood, in which pull 0 is a reading with an error "+
			"and each group has a variance of its own. Shapes are fitted to mean paths and ranked by AICc. A rule of "+
			"acceptance takes no distribution of losses for granted; methods for normal losses stand beside a verdict and "+
			"make none."),
		document.Formula("difference ± q · u,   q: quantile of the largest |t| of all pairs\n"+
			"y = μ(coating) + a(coupon) + (β(coating) + L(lot) + b(coupon)) · dose + session + known errors + e"),
		document.Heading("Sessions"),
		document.Text("Whether a session is trusted is decided by check standards: by their certificates until 20 sessions "+
			"of an instrument are in control, then by a chart of individuals with its moving range and an exponentially "+
			"weighted mean. wane help sessions has the limits, wane help model the film, wane help routes the corrections."))
	return p, nil
}

// limitsPart says what the results rest on, and what these data cannot tell.
func limitsPart(w *reporter) (document.Part, error) {
	p := document.Part{Name: "limits", Title: "Limits and assumptions"}
	p.Blocks = append(p.Blocks, document.Heading("Of these data"))
	found := w.limitsFound()
	if len(found) == 0 {
		found = []string{"Nothing was found in these data that limits them beyond what follows."}
	}
	p.Blocks = append(p.Blocks, document.List(found), document.Heading("Assumptions that were not tested "+
		"here"), document.List{
		"A coupon stands for the product only if it was drawn from it at random. The study does not know how coupons were " +
			"drawn.",
		"The film is an equivalent uniform porous film on smooth glass, with the mixing rule that is stated. Another rule " +
			"gives another porosity for the same index; solar values depend little on it.",
		"Water in the pores, organic residue and densification look alike in reflectance.",
		"Solar values are for normal incidence and the spectrum of the standard, weighted by energy. Another weighting can " +
			"reverse a ranking of coatings.",
		"An exposure stands for itself. What it says of another site, or of service, is an assumption unless a comparison " +
			"of exposures says otherwise.",
		"Nothing is said of doses beyond the last pull.",
		"Errors of different sessions, placements and glasses are independent of one another, and priors of the instrument " +
			"hold where nothing was measured of it.",
	})
	return p, nil
}

// limitsFound are the limits that the data show.
func (w *reporter) limitsFound() (found []string) {
	r := w.of
	say := func(format string, args ...any) { found = append(found, fmt.Sprintf(format, args...)) }
	if n := r.Due.Spots(); n > 0 {
		say("%s not evaluated, or evaluated from readings and entries that have changed since. Run wane fit and make the "+
			"report again.", count(n, "spot")+isAre(n))
	}
	if one := oneLot(r.Roster); len(one) > 0 {
		say("Of one lot only: %s. What is said of them is said of these lots, not of the coating.", strings.Join(one, ", "))
	}
	if none := withoutControls(r.Roster); r.Settings.Correction != study.RouteNone && len(none) > 0 {
		say("Without controls: %s. Their changes hold whatever changed in the instrument.", strings.Join(none, ", "))
	}
	if r.Settings.Correction == study.RouteNone {
		say("This study corrects no change: each holds what changed in the instrument between its sessions.")
	}
	spots, lossless := 0, 0
	for i := range r.Groups {
		spots, lossless = spots+r.Groups[i].Spots, lossless+r.Groups[i].Clear
	}
	if lossless > 0 {
		say("%d of %d rows have no reading of transmittance: their film is taken as lossless, and what it absorbs is not "+
			"seen.",
			lossless, spots)
	}
	for _, said := range []string{shown.DistrustedWords(r.Groups), misfitWords(r.Groups), plannedOf(r.Groups)} {
		if said != "" {
			say("%s.", study.OneLine(strings.ToUpper(said[:1])+said[1:]))
		}
	}
	missing := 0
	for i := range r.Pulls {
		if s := r.Pulls[i].State; s == "missing" || s == "missed" || s == "partly" {
			missing++
		}
	}
	if missing > 0 {
		say("%s not read as expected, of %d that are planned; the table of coupons at each pull names them.",
			count(missing, "coupon")+" at a pull"+isAre(missing), len(r.Pulls))
	}
	if few := fewCoupons(r.Groups); len(few) > 0 {
		say("One coupon has no interval: %s.", strings.Join(few, ", "))
	}
	if len(r.Ended) > 0 {
		say("%s ended early; later values are those of the survivors.", count(len(r.Ended), "coupon"))
	}
	return found
}

// lotsOf returns the lots of each coating among exposed coupons, and the coatings in order.
func oneLot(roster *study.Roster) (coatings []string) {
	lots := map[string]map[string]bool{}
	for i := range roster.Coupons {
		c := &roster.Coupons[i]
		if c.Role != study.Exposed {
			continue
		}
		if lots[c.Coating] == nil {
			lots[c.Coating] = map[string]bool{}
		}
		lots[c.Coating][c.Lot] = true
	}
	for coating, of := range lots {
		if len(of) == 1 {
			coatings = append(coatings, coating)
		}
	}
	slices.Sort(coatings)
	return coatings
}

// withoutControls are the coatings of exposed coupons of which no control is enrolled.
func withoutControls(roster *study.Roster) (coatings []string) {
	controlled := map[string]bool{}
	for i := range roster.Coupons {
		if c := &roster.Coupons[i]; c.Role == study.Control {
			controlled[c.Coating] = true
		}
	}
	for i := range roster.Coupons {
		c := &roster.Coupons[i]
		if c.Role == study.Exposed && !controlled[c.Coating] && !slices.Contains(coatings, c.Coating) {
			coatings = append(coatings, c.Coating)
		}
	}
	slices.Sort(coatings)
	return coatings
}

// fewCoupons are the groups that have a change of one coupon only, at some pull.
func fewCoupons(groups []ageing.Group) (names []string) {
	for i := range groups {
		if g := &groups[i]; g.Changed == 1 && !slices.Contains(names, g.Group) {
			names = append(names, g.Group)
		}
	}
	return names
}

// safetyPart says what comes before this report where it leads to work.
func safetyPart(*reporter) (document.Part, error) {
	return document.Part{Name: "safety", Title: "Before anybody acts on this report", Blocks: []document.Block{
		document.Text("This report states what was measured, and what the rules of this study make of it. It is no " +
			"instruction for work, no certificate, and no proof that a product conforms to a standard. Whoever takes coupons " +
			"out, cleans, mounts or replaces glass follows local codes and the site's safety rules, and leaves to licensed " +
			"people what is theirs: work near energised arrays and at heights, in heat, near UV lamps and hot chambers, with " +
			"cleaning chemicals, with broken or sharp glass, and where abrasion makes silica dust. Where this report and a " +
			"local code differ, the code counts."),
	}}, nil
}

package film

// LawEffect is one effect of the law of a reading, with what is known of it beforehand.
type LawEffect struct {
	Owner   Owner
	Name    string  // of its parameter; those of an angle or a curve have one for each
	Term    string  // what a budget calls it
	Unit    string  // of Mean and U; empty for a ratio
	Mean, U float64 // the prior; U 0 fixes the effect at its mean
	Through bool    // only transmittance shows it
}

// Law returns the effects of the law but those of the film itself, as a fit of a spot of this setup knows them
// beforehand. An effect that the far face excludes, such as the leak of one that is not matched, is fixed.
func Law(setup *Setup) []LawEffect {
	s := &Spot{Setup: *setup}
	known := s.known()
	list := make([]LawEffect, len(law))
	for i := range law {
		e := &law[i]
		mean, u := e.knowledge(&known, s)
		list[i] = LawEffect{Owner: e.owner, Name: e.name, Term: e.term, Unit: e.unit, Mean: mean, U: u, Through: e.isOfThrough()}
	}
	return list
}

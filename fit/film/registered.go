package film

// CheckInstrument returns an [*InputError] that says what of in cannot be, so that a
// register can refuse it before any reading exists.
func CheckInstrument(in *Instrument) error { return in.check() }

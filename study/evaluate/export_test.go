package evaluate

import "wane/fit/film"

// DivideByBlankForTest is the quotient of one spectrum by one blank.
var DivideByBlankForTest = divideByBlank

// JointKnownForTest is what the fit of a session with a dark blank knows of it, for a setup.
func JointKnownForTest(setup film.Setup, standards *Override) film.Session {
	joint := jointSetup(setup, true, standards)
	return joint.Known.Session
}

package store

// What tests of this package look at.
var (
	PackSurvey   = packSurvey
	UnpackSurvey = unpackSurvey
)

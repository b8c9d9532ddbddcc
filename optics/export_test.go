package optics

// RaiseSteps makes the profile use at least n steps.
func (p *Profile) RaiseSteps(n int) { p.least = n }

// The rules of the spread of thickness: offset and weight of each point.
var Gauss3, Gauss7 = gauss3[:], gauss7[:]

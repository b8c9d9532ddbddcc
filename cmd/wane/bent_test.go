package main

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"

	"wane/study/desk"
	"wane/study/population"
	"wane/study/service"
)

// Below the tables of a service life and of two exposures stands whose losses do not lie on a straight line.
func TestBentLossesAreSaid(t *testing.T) {
	s := &desk.Service{Coatings: []desk.ServiceCoating{
		{Group: population.Group{Coating: "K"}, Kept: &service.Kept{}},
		{Group: population.Group{Coating: "L"}, Kept: &service.Kept{}, Bent: true}}}
	words := strings.Join(serviceWords(s), "\n")
	assert.Contains(t, words, "scatter: the losses of L so far do not lie on a straight line")
	s.Coatings[1].Bent = false
	assert.NotContains(t, strings.Join(serviceWords(s), "\n"), "scatter")

	e := &desk.Transfer{Exposures: [2]string{"chamber", "roof"},
		Coatings: []desk.TransferCoating{{Coating: "K"}, {Coating: "L", Bent: [2]bool{false, true}}}}
	assert.Contains(t, strings.Join(transferWords(e), "\n"), "scatter: the losses of L in roof so far do not lie")
	e.Coatings[1].Bent[1] = false
	assert.NotContains(t, strings.Join(transferWords(e), "\n"), "scatter")
}

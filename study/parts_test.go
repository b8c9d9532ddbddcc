package study_test

import (
	"testing"

	"github.com/stretchr/testify/assert"

	"wane/study"
)

// Effects of several angles are one part, and so are those of a joint fit; the squares of the parts add to the variance:
// 5² = 3² + 4², and so on.
func TestParts(t *testing.T) {
	effect := func(owner study.Owner, name string, by float64) study.Sensitivity {
		return study.Sensitivity{Effect: study.Effect{Owner: owner, Name: name},
			By: [study.NumberOfOutputs]float64{study.OutGain: by}}
	}
	e := &study.Errors{Shared: []study.Sensitivity{effect(study.OwnerSession, "factor@8", -3),
		effect(study.OwnerBatch, "glass_index", 1), effect(study.OwnerSession, "factor@60", 4),
		effect(study.OwnerJoint, "1", 5), effect(study.OwnerJoint, "uniform 2", -12)}}
	e.SetOwn(study.OutGain, study.OutGain, 4)
	assert.Equal(t, []study.UPart{{Owner: study.OwnerJoint, U: 13}, {Owner: study.OwnerSession, Name: "factor", U: 5},
		{U: 2}, {Owner: study.OwnerBatch, Name: "glass_index", U: 1}}, e.Parts(study.OutGain))
	assert.Empty(t, (&study.Errors{}).Parts(study.OutGain))
}

package store

import (
	"testing"

	"github.com/stretchr/testify/assert"
)

// Counts and digests are kept by the place of a table in tables.
func TestTablesKnowTheirPlaces(t *testing.T) {
	for i, one := range tables {
		assert.Equal(t, i, one.index, one.name)
	}
}

package desk

import (
	"context"
	"errors"
	"slices"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// batchRecord keeps what a batch of integers committed and reported.
type batchRecord struct {
	commits  [][]int
	reported []int
	clock    time.Time
	fail     error // of each commit
}

// newRecordedBatch returns a batch that is full with three items. Each integer is one item, and has so
// many bytes.
func newRecordedBatch(total int) (*batch[int], *batchRecord) {
	r := &batchRecord{clock: time.Date(2031, 3, 4, 5, 6, 7, 0, time.UTC)}
	return &batch[int]{
		commit: func(units []int) error {
			r.commits = append(r.commits, slices.Clone(units))
			return r.fail
		},
		size:   func(u int) (items, bytes int) { return 1, u },
		fullAt: func(done int) int { return 3 + done/4 },
		now:    func() time.Time { return r.clock }, lastCommit: r.clock, total: total,
		progress: func(done, total int) { r.reported = append(r.reported, done, total) },
	}, r
}

func TestBatchCommitsByItems(t *testing.T) {
	b, r := newRecordedBatch(8)
	for u := range 8 {
		require.NoError(t, b.add(u))
	}
	require.NoError(t, b.finish(nil))
	assert.Equal(t, [][]int{{0, 1, 2}, {3, 4, 5}, {6, 7}}, r.commits)
	assert.Equal(t, []int{3, 8, 6, 8, 8, 8}, r.reported)
}

// A batch may grow with what is committed.
func TestBatchGrows(t *testing.T) {
	b, r := newRecordedBatch(12)
	b.fullAt = func(done int) int { return 4 + done/4 }
	for u := range 12 {
		require.NoError(t, b.add(u))
	}
	assert.Equal(t, [][]int{{0, 1, 2, 3}, {4, 5, 6, 7, 8}}, r.commits)
}

func TestBatchCommitsByBytes(t *testing.T) {
	b, r := newRecordedBatch(3)
	require.NoError(t, b.add(batchBytes-1))
	assert.Empty(t, r.commits)
	require.NoError(t, b.add(1))
	assert.Equal(t, [][]int{{batchBytes - 1, 1}}, r.commits)
	require.NoError(t, b.add(1))
	assert.Len(t, r.commits, 1, "bytes that are committed do not count again")
}

// The time counts from the last commit, by the clock of the desk.
func TestBatchCommitsByTime(t *testing.T) {
	b, r := newRecordedBatch(4)
	r.clock = r.clock.Add(batchTime - 1)
	require.NoError(t, b.add(1))
	assert.Empty(t, r.commits)
	r.clock = r.clock.Add(1)
	require.NoError(t, b.add(2))
	assert.Equal(t, [][]int{{1, 2}}, r.commits)
	r.clock = r.clock.Add(batchTime - 1)
	require.NoError(t, b.add(3))
	assert.Len(t, r.commits, 1)
}

// The last batch is committed after success and after a person has stopped the work, and not after
// another error.
func TestBatchFinishes(t *testing.T) {
	boom := errors.New("boom")
	for _, c := range []struct {
		end     error
		commits [][]int
	}{
		{nil, [][]int{{1, 2}}},
		{context.Canceled, [][]int{{1, 2}}},
		{boom, nil},
	} {
		b, r := newRecordedBatch(5)
		require.NoError(t, b.add(1))
		require.NoError(t, b.add(2))
		require.ErrorIs(t, b.finish(c.end), c.end)
		assert.Equal(t, c.commits, r.commits, "%v", c.end)
	}
}

// A commit that failed is not tried again, and its error is reported also if the work was stopped in the
// meantime. Nothing of it is counted.
func TestBatchWhoseCommitFails(t *testing.T) {
	boom := errors.New("boom")
	for _, end := range []error{nil, boom, context.Canceled} {
		b, r := newRecordedBatch(5)
		require.NoError(t, b.add(1))
		require.NoError(t, b.add(2))
		r.fail = boom
		require.ErrorIs(t, b.add(3), boom)
		r.fail = nil
		require.ErrorIs(t, b.finish(end), boom)
		assert.Equal(t, [][]int{{1, 2, 3}}, r.commits)
		assert.Empty(t, r.reported)
	}
}

// If the work is stopped before the first batch is full, what is finished by then is committed.
func TestStoppedWithinABatch(t *testing.T) {
	items := make([]int, 60)
	for i := range items {
		items[i] = i
	}
	ctx, cancel := context.WithCancel(context.Background())
	b, r := newRecordedBatch(len(items))
	b.fullAt = func(int) int { return len(items) }
	added := make(chan bool, len(items))
	work := func(_ context.Context, _ int, i int) (int, error) {
		if i == 20 {
			<-added // the first one
			cancel()
		}
		return i, nil
	}
	err := b.finish(inOrder(ctx, 1, slices.Values(items), work, func(i int) error {
		err := b.add(i)
		added <- true
		return err
	}))
	require.ErrorIs(t, err, context.Canceled)
	require.Len(t, r.commits, 1)
	assert.NotEmpty(t, r.commits[0])
	assert.Less(t, len(r.commits[0]), 60)
}

package desk

import (
	"context"
	"errors"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"wane/study"
	"wane/study/intake/text"
)

// overlapping is a made-up export of which two parts overlap: which of them counts is asked.
const overlapping = "nm,%R\n400,2.61\n430,2.20\n460,1.90\n490,1.45\n520,1.21\n550,1.20\n520,1.31\n540,1.29\n" +
	"580,1.14\n620,1.22\n660,1.35\n700,1.49\n740,1.66\n"

// askFolder takes four files in: one that is good, two with a question, and one that is not there.
func askFolder(t *testing.T) (d *Desk, mapFile string, in *TakenIn) {
	t.Helper()
	f := newFolder(t)
	d = f.start()
	f.export("good.csv", 120, 0, 1)
	f.write("ask1.csv", overlapping)
	f.write("ask2.csv", overlapping+"780,1.80\n")
	mapFile = f.write("map.csv", mapHeader+rows("good.csv", "E1", 0)+
		"ask1.csv,#2,E1,0,2,8,u,R,percent\nmissing.csv,#2,E1,0,4,8,u,R,percent\nask2.csv,#2,E1,0,3,8,u,R,percent\n")
	in, err := d.Intake(context.Background(), mapFile, nil, IntakeOptions{Workers: 1})
	require.NoError(t, err)
	require.Equal(t, []int{1, 3}, []int{in.Files, len(in.Refused)})
	return d, mapFile, in
}

// answerer answers each question with a choice, and notes the files that it was asked about.
func answerer(asked *[]string) func(*study.Refusal, *text.Stated) error {
	return func(refused *study.Refusal, stated *text.Stated) error {
		*asked = append(*asked, refused.File)
		return stated.Set("overlap", "average")
	}
}

// Each file with a question is asked about by itself; one without a question stays refused.
func TestAskRefused(t *testing.T) {
	d, mapFile, in := askFolder(t)
	var asked []string
	saved, err := d.AskRefused(context.Background(), mapFile, in, Asking{Ask: answerer(&asked)}, IntakeOptions{Workers: 1})
	require.NoError(t, err)
	assert.Nil(t, saved)
	require.Len(t, asked, 2)
	assert.Contains(t, asked[0], "ask1.csv")
	assert.Contains(t, asked[1], "ask2.csv")
	assert.Equal(t, []int{3, 4, 0, 0}, []int{in.Files, in.Curves, in.Known, in.Skipped})
	require.Len(t, in.Refused, 1)
	assert.Contains(t, in.Refused[0].Error(), "missing.csv")
}

// Saved answers settle the questions of the other files, also in a later intake by the name of the
// profile.
func TestAskRefusedAndSaveTheAnswers(t *testing.T) {
	ctx := context.Background()
	d, mapFile, in := askFolder(t)
	var asked []string
	saved, err := d.AskRefused(ctx, mapFile, in, Asking{Ask: answerer(&asked), SaveAs: "bench"}, IntakeOptions{Workers: 1})
	require.NoError(t, err)
	require.NotNil(t, saved)
	assert.Equal(t, []any{"bench", 1, true}, []any{saved.Name, saved.Version, saved.Added})
	assert.Len(t, asked, 1)
	assert.Equal(t, 3, in.Files)
	require.Len(t, in.Refused, 1)
	assert.Contains(t, in.Refused[0].Error(), "missing.csv")

	again, err := d.Intake(ctx, mapFile, nil, IntakeOptions{Workers: 1, Profile: "bench"})
	require.NoError(t, err)
	assert.Equal(t, []int{1, 3, 0}, []int{len(again.Refused), again.Known, again.Files}, "the same readings")
}

// Questions that nobody answers stay refused, in their order. A person who stops is not asked again.
func TestAskRefusedWithoutAnAnswer(t *testing.T) {
	d, mapFile, in := askFolder(t)
	before := in.Refused
	silent := func(refused *study.Refusal, _ *text.Stated) error { return refused }
	how := Asking{Ask: silent, SaveAs: "bench"}
	_, err := d.AskRefused(context.Background(), mapFile, in, how, IntakeOptions{Workers: 1})
	require.NoError(t, err)
	assert.Equal(t, before, in.Refused)
	assert.Equal(t, 1, in.Files)
	profiles, err := d.Profiles(context.Background())
	require.NoError(t, err)
	assert.Empty(t, profiles, "there are no answers to save")

	ctx, cancel := context.WithCancel(context.Background())
	count := 0
	stops := func(refused *study.Refusal, _ *text.Stated) error {
		count++
		cancel()
		return errors.New("stopped")
	}
	_, err = d.AskRefused(ctx, mapFile, in, Asking{Ask: stops}, IntakeOptions{Workers: 1})
	require.ErrorIs(t, err, context.Canceled)
	assert.Equal(t, 1, count)
}

// Two intakes together: what the later one released is not held, and all else adds up.
func TestMergeIntakes(t *testing.T) {
	one := errors.New("one")
	in := TakenIn{
		Files: 1, Curves: 2, Known: 3, HeldBefore: 4, Skipped: 5, Held: []Judged{{Number: 7}, {Number: 8}},
		Notes: []string{"map"}, FileNotes: []Note{{"a", "x"}},
	}
	in.merge(&TakenIn{
		Files: 10, Curves: 20, Known: 30, HeldBefore: 2, Skipped: 50, Held: []Judged{{Number: 9}},
		Released: []Judged{{Number: 8}, {Number: 3}}, Refused: []error{one}, FileNotes: []Note{{"b", "y"}},
	})
	assert.Equal(t, TakenIn{
		Files: 11, Curves: 22, Known: 33, HeldBefore: 4, Skipped: 55, Held: []Judged{{Number: 7}, {Number: 9}},
		Released: []Judged{{Number: 3}}, Refused: []error{one}, Notes: []string{"map"},
		FileNotes: []Note{{"a", "x"}, {"b", "y"}},
	}, in)
}

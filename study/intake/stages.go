package intake

import (
	"wane/study/intake/text"
)

// What is known of an export grows from stage to stage:
//
//	asker -> decoded -> section -> grid -> located
//
// Each of these values embeds the one before it and adds what its stage found. A method belongs
// to the first value that knows all it needs, takes it by value and changes nothing in it. Only
// the asker is shared, and it is never changed either.

// asker makes the questions and refusals about one export, and knows what is stated of it.
type asker struct {
	text.Asker
	want text.Understood
}

// decoded is the text of an export.
type decoded struct {
	*asker
	src text.Decoded
}

// section is the block of rows that is read, and the stretch of the text that belongs to it.
type section struct {
	decoded
	block  block
	window window
}

// grid is a section whose rows a dialect splits into cells.
type grid struct {
	section
	dialect  dialect
	hasNames bool // the rows hold names
}

// located is a grid from which a table was read: it knows where its numbers stand.
type located struct {
	grid
	locate func(i, j int) (row, cell int) // if not row by row and column by column
	origin []int                          // the row of the block that each row of the table comes from, if not the same
}

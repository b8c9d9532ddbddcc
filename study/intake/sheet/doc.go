// Package sheet reads the tables that people write: rosters and the register, measurements, glass,
// references, and maps row by row.
//
// Start with [Roster.Add], [ReadMeasured], [ReadGlass] or [ReadReferenceTable] for a whole table.
// A map may be long: [NewReader] and [EachMapRow] go through it row by row.
//
// The first row names the columns, in any case and order; commas or semicolons separate the cells;
// a line that begins with # is a comment. A cell that is not written as here, but can be read in one
// way only, is read in that way, and a note says so: 23.03.2031, % for percent, a path with
// backslashes, a code in decomposed Unicode. One that can be read in two ways is refused with both.
// Values keep the units that their columns name. Every error is a [*study.Refusal] with the line.
package sheet

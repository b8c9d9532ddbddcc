// Package placing says where the curves of exports belong: by the rows of a map, or by a profile
// with patterns of file names and headings.
//
// Start with [OpenMap] or [ReadProfile]. Both lead to [Rules]: [Rules.For] gives the lines for one
// export, and [Place] matches them against the curves that the reader found in it. [Draft] writes a
// profile from an export for a person to finish.
//
// Angles are in degrees from the normal; pulls and replicates are whole numbers. A map stays on the
// disk and is refused if it changes while it is in use. The reader of exports does not know this
// package. Every error is a [*study.Refusal].
package placing

// Package heading reads the words above columns and in the header of an export.
//
// Start with [Parse]: it reads one heading into a [Label], which says what the words state of the
// wavelength, the quantity, the unit, the angle of incidence and the polarisation. [KeyAndValue]
// cuts a header line into its [Key] and its value, and [OtherQuantity], [SaysRelative] and the like say
// what a line means.
//
// All functions are pure: the same words always mean the same. Nothing is guessed: what words leave
// open is empty in the label, and a flag says where a letter may be a name. Angles are in degrees, as
// written. Words are compared in lower case, in English and some other languages of labs.
package heading

package evaluate

// OverBlankForTest is the quotient of one spectrum by one blank.
var OverBlankForTest = overBlank

package evaluate

// DivideByBlankForTest is the quotient of one spectrum by one blank.
var DivideByBlankForTest = divideByBlank

package evaluate

// ModelVersion returns the version of the model and of the rules of this package. A fit of
// another version is stale.
func ModelVersion() int { return modelVersion }

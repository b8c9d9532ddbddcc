package evaluate

// ModelVersion returns the version of the model and of the rules that fits are made by
// here. A fit of another version is stale.
func ModelVersion() int { return modelVersion }

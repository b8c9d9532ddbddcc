package evaluate

// ModelVersion returns the version of the model and of the rules that fits are made by
// here. A fit of another version is stale.
func ModelVersion() int { return modelVersion }

// GuardVersion returns the version of the guards: what others have looked at is looked at
// again. Raise it with every change of what a guard holds.
func GuardVersion() int { return guardVersion }

const guardVersion = 1

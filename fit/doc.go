// Package fit finds the parameters of a model that agree best with data in the
// sense of least squares, within bounds and with prior knowledge, and how uncertain
// they are.
//
// Describe the problem in a [Problem], its residuals and if possible their
// derivatives, and call [Solve]; then ask the [Result] whether it has converged
// and for its [Result.Covariance]. A program that solves many problems keeps a
// [Workspace]. A problem whose normal equations can be computed faster than its
// residuals gives them itself (Problem.Normal).
//
// Beyond the covariance: [Profile] and [ProfileOf] give profile-likelihood intervals,
// [Bootstrap] the scatter of repeated fits, [Problem.Influence] the influence of each
// point, and [Problem.Robust] a loss that grows more slowly than squares.
//
// [REML] is of another kind: from vectors observed several times, whose own errors are known,
// it estimates the variances with which they scatter beyond these.
//
// # Conventions
//
// The cost is the sum of the squares of all residuals, without a factor 1/2. A
// residual is (model - data)/sigma, so that the cost is a chi-square and the
// covariance needs no factor. A Gaussian prior is one more residual, (value -
// mean)/sd. Parameters carry whatever units the caller gives them: each is scaled
// by how strongly the residuals depend on it, and results do not depend on the
// units. Matrices are stored by rows. Fixed parameters keep their places in all
// slices and matrices, with zero variance.
//
// # What is promised
//
// Bounds hold whenever residuals or Jacobian are evaluated, those evaluations for
// difference Jacobians included, and a parameter that ends on a bound has exactly
// its value. The cost of the result is never above that of the start. Parameters
// that the data do not determine do no harm: the fit moves the others, and
// [Result.Covariance] names them. No result holds a NaN. The same
// problem gives the same result to the last digit on the same machine. Iterations
// allocate nothing.
//
// The minimum is a local one: where there may be several, start from several
// points and compare costs.
//
// # Accuracy
//
// The tests hold parameters, standard errors and sums of squares to the values
// certified by NIST for its nonlinear regression datasets (all difficulties): see
// nist_test.go for the digits reached.
package fit

# Reference values for profile_test.go, made with R 4.2.2, MASS 7.3-58.2:
#   Rscript profile.R     (in this folder)
#
# confint is that of MASS for nls: it profiles on a grid and interpolates by a
# spline. "exact" solves the same equation, (RSS(theta) - RSS)/s^2 = t^2, by uniroot,
# with RSS(theta) minimised over the other parameters by nls or in closed form.
suppressMessages(library(MASS))
options(digits = 15)
show <- function(name, v) cat(name, format(v, digits = 15), "\n")

# root of rss(theta) - target on the two sides of best
exact <- function(rss, best, se, target) {
  f <- function(th) rss(th) - target
  u <- function(sign) {
    far <- best + sign * se
    while (f(far) < 0) far <- far + sign * se
    uniroot(f, sort(c(best, far)), tol = 1e-13)$root
  }
  c(u(-1), u(1))
}
target <- function(m) {
  d <- df.residual(m)
  deviance(m) * (1 + qt(0.975, d)^2 / d)
}
# least RSS of y on the columns of X, without an intercept
linear <- function(X, y) sum(qr.resid(qr(as.matrix(X)), y)^2)
# least over one more parameter k, from near
least <- function(f, near) {
  o <- optimize(f, near * c(0.3, 3), tol = 1e-10)
  # the cost at the least is good to rounding errors, though k is not
  o$objective
}

cat("== Puromycin, treated: D. Bates, D. Watts (1988), datasets of R\n")
P <- subset(Puromycin, state == "treated")
m <- nls(rate ~ Vm * conc / (K + conc), P, c(Vm = 200, K = 0.05), control = nls.control(tol = 1e-7))
show("coef", coef(m)); show("rss", deviance(m)); show("rise", target(m) - deviance(m))
print(confint(m), digits = 10)
se <- sqrt(diag(vcov(m)))
rss <- function(Vm, K) sum((P$rate - Vm * P$conc / (K + P$conc))^2)
show("exact Vm", exact(function(Vm) least(function(K) rss(Vm, K), coef(m)[["K"]]), coef(m)[["Vm"]], se[["Vm"]], target(m)))
show("exact K", exact(function(K) linear(P$conc / (K + P$conc), P$rate), coef(m)[["K"]], se[["K"]], target(m)))

cat("== the same, with the slope at the origin q = Vm/K as a parameter\n")
q <- nls(rate ~ Vm * conc / (Vm / q + conc), P, c(Vm = 200, q = 4000), control = nls.control(tol = 1e-7))
show("coef", coef(q))
print(confint(q), digits = 10)
se <- sqrt(diag(vcov(q)))
show("exact q", exact(function(s) least(function(K) rss(s * K, K), coef(m)[["K"]]), coef(q)[["q"]], se[["q"]], target(q)))

cat("== Rat42 of the NIST StRD\n")
R <- read.csv("nist_strd/Rat42.csv", comment.char = "#")
m <- nls(y ~ b1 / (1 + exp(b2 - b3 * x)), R, c(b1 = 72, b2 = 2.6, b3 = 0.067), control = nls.control(tol = 1e-7))
show("coef", coef(m)); show("rss", deviance(m)); show("rise", target(m) - deviance(m))
print(confint(m), digits = 10)
se <- sqrt(diag(vcov(m))); b <- as.list(coef(m))
tight <- nls.control(tol = 1e-6, maxiter = 500)
shape <- function(b2, b3) 1 / (1 + exp(b2 - b3 * R$x))
show("exact b1", exact(function(b1) deviance(nls(y ~ b1 / (1 + exp(b2 - b3 * x)), R, b[c("b2", "b3")], control = tight)),
                       b$b1, se[["b1"]], target(m)))
show("exact b2", exact(function(b2) least(function(b3) linear(shape(b2, b3), R$y), b$b3), b$b2, se[["b2"]], target(m)))
show("exact b3", exact(function(b3) least(function(b2) linear(shape(b2, b3), R$y), b$b2), b$b3, se[["b3"]], target(m)))

cat("== Rat43 of the NIST StRD, b2: start values go along, since the model is flat where b4 falls too low\n")
R <- read.csv("nist_strd/Rat43.csv", comment.char = "#")
m <- nls(y ~ b1 / ((1 + exp(b2 - b3 * x))^(1 / b4)), R, c(b1 = 700, b2 = 5.3, b3 = 0.76, b4 = 1.28), control = nls.control(tol = 1e-7, maxiter = 500))
show("coef", coef(m)); show("rss", deviance(m)); show("rise", target(m) - deviance(m))
start <- coef(m)[c("b1", "b3", "b4")]
at <- coef(m)[["b2"]]
rss <- function(b2) {
  for (b in seq(at, b2, length.out = 2 + ceiling(abs(b2 - at) / 0.05))[-1]) {
    n <- nls(y ~ b1 / ((1 + exp(b - b3 * x))^(1 / b4)), R, start, control = nls.control(tol = 1e-6, maxiter = 500))
    start <<- coef(n)
  }
  at <<- b2
  deviance(n)
}
show("exact b2", exact(rss, coef(m)[["b2"]], sqrt(vcov(m)["b2", "b2"]) / 4, target(m)))

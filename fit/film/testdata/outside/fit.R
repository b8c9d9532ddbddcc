# The fits of problems.csv by R, for outside_test.go, made with R 4.2.2 and
# minpack.lm 1.2.3: Rscript fit.R     (in this folder) writes fits_r.csv
#
# Written apart from fit.py, whose readings it takes: Airy's sum in real numbers, in
# terms of the phase angle of a film without absorption, its derivatives by complex
# steps (the imaginary part of the residuals a step of 1e-30i away). The solver is
# MINPACK's Levenberg-Marquardt, nls.lm, without bounds; what is known beforehand are
# more residuals. Standard errors: inverse of J'J times max(1, reduced chi-square).
library(minpack.lm)
control <- nls.lm.control(ftol = 1e-15, ptol = 1e-15, gtol = 0, maxiter = 1000, maxfev = 1e5)

# dispersion, wavelengths in micrometres: I. H. Malitson (1965); data sheet; M. Rubin (1985)
sellmeier <- function(um, b, c) { n2 <- 1; for (i in 1:3) n2 <- n2 + b[i] * um^2 / (um^2 - c[i]); sqrt(n2) }
silica <- function(um) sellmeier(um, c(0.6961663, 0.4079426, 0.8974794), c(0.0684043, 0.1162414, 9.896161)^2)
glasses <- list(
  "borosilicate-crown" = function(um) sellmeier(um, c(1.03961212, 0.231792344, 1.01046945), c(0.00600069867, 0.0200179144, 103.560653)),
  "soda-lime" = function(um) 1.5130 - 0.003169 * um^2 + 0.003962 / um^2)

# permittivity of a film of solid e and porosity p
mixings <- list(
  # the positive root of 2 E^2 - b E - e = 0
  bruggeman = function(e, p) { b <- (1 - p) * (2 * e - 1) + p * (2 - e); b / 4 + sqrt((b / 4)^2 + e / 2) },
  "lorentz-lorenz" = function(e, p) { L <- (1 - p) * (e - 1) / (e + 2); (1 + 2 * L) / (1 - L) })

# reflectance in one polarisation; t0, t1, t2: what Fresnel's formulae compare
fresnel <- function(t0, t2) ((t0 - t2) / (t0 + t2))^2
airy <- function(t0, t1, t2, phase) {
  r <- (t0 - t1) / (t0 + t1); q <- (t1 - t2) / (t1 + t2)
  x <- 2 * r * q * cos(phase)
  (r^2 + q^2 + x) / (1 + r^2 * q^2 + x)
}

# what is known of each parameter: mean, and standard uncertainty, which is Inf for
# those that only the readings determine
known_of <- function(p, angles, native) {
  known <- rbind(thickness_nm = c(p$thickness_nm, Inf), porosity = c(p$porosity, Inf), bare = c(p$bare, Inf),
    skeleton = c(p$skeleton, p$u_skeleton), glass = c(0, p$u_glass), scale = c(1, p$u_scale), s_share_native = c(0.5, if (native) p$u_share else 0))
  for (a in angles) {
    more <- rbind(c(1, p$u_factor), c(0, p$u_angle_deg))
    rownames(more) <- paste0(c("factor@", "angle@"), a)
    known <- rbind(known, more)
  }
  known
}

fit <- function(p) {
  data <- read.csv(paste0(p$problem, ".csv"), comment.char = "#", check.names = FALSE)
  um <- data$nm / 1000
  columns <- names(data)[-1]
  angle <- substr(columns, 1, nchar(columns) - 1)
  pol <- substring(columns, nchar(columns))
  known <- known_of(p, unique(angle), any(pol == "n"))
  free <- rownames(known)[known[, 2] > 0]
  prior <- free[is.finite(known[free, 2])]
  glass <- glasses[[p$glass]](um)
  shape <- silica(um) - silica(0.55)

  residuals <- function(x) {
    v <- setNames(as.list(known[, 1]), rownames(known))
    v[free] <- as.list(x)
    e1 <- mixings[[p$mixing]]((v$skeleton + shape)^2, v$porosity)
    e2 <- (glass + v$glass)^2
    all <- NULL
    for (k in seq_along(columns)) {
      theta <- (as.numeric(angle[k]) + v[[paste0("angle@", angle[k])]]) * pi / 180
      q0 <- cos(theta); q1 <- sqrt(e1 - sin(theta)^2); q2 <- sqrt(e2 - sin(theta)^2)
      phase <- 4 * pi * v$thickness_nm * q1 / data$nm
      s <- (1 - v$bare) * airy(q0, q1, q2, phase) + v$bare * fresnel(q0, q2)
      t <- (1 - v$bare) * airy(1 / q0, e1 / q1, e2 / q2, phase) + v$bare * fresnel(1 / q0, e2 / q2)
      share <- switch(pol[k], s = 1, p = 0, u = 0.5, n = v$s_share_native)
      r <- v$scale * v[[paste0("factor@", angle[k])]] * (share * s + (1 - share) * t)
      all <- c(all, (r - data[[k + 1]]) / p$noise_sd)
    }
    c(all, (unlist(v[prior]) - known[prior, 1]) / known[prior, 2])
  }
  jacobian <- function(x) sapply(seq_along(x), function(i) { z <- as.complex(x); z[i] <- z[i] + 1e-30i; Im(residuals(z)) / 1e-30 })

  m <- nls.lm(known[free, 1], fn = residuals, jac = jacobian, control = control)
  J <- jacobian(m$par)
  cost <- sum(residuals(m$par)^2)
  of.data <- seq_len(nrow(J) - length(prior)) # residuals beyond the noise widen the noise, not what is known beforehand
  inflation <- max(1, cost / (nrow(J) - ncol(J)))
  se <- sqrt(diag(solve(crossprod(J[of.data, ]) / inflation + crossprod(J[-of.data, , drop = FALSE]))))
  data.frame(problem = p$problem, quantity = c("objective", free), value = c(cost, m$par), standard_error = c(0, se))
}

problems <- read.csv("problems.csv", comment.char = "#")
fits <- do.call(rbind, lapply(seq_len(nrow(problems)), function(i) fit(as.list(problems[i, ]))))
for (k in c("value", "standard_error")) fits[[k]] <- sprintf("%.15g", fits[[k]])
cat("# fit.R, ", R.version.string, ", minpack.lm ", as.character(packageVersion("minpack.lm")),
  ": nls.lm(control = nls.lm.control(ftol = 1e-15, ptol = 1e-15, gtol = 0, maxiter = 1000, maxfev = 1e5))\n",
  "# objective: sum of squares, of what is known beforehand too; its standard_error is 0\n", sep = "", file = "fits_r.csv")
suppressWarnings(write.table(fits, "fits_r.csv", append = TRUE, sep = ",", quote = FALSE, row.names = FALSE))

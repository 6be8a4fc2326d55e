# Second looks at the cases where our numbers differ from a check file: the same library with a tight search, or with the
# covariance that its default call leaves out. Writes second_looks.csv; docs/known-divergences.md tells what follows.
# Run by hand in this folder: Rscript second_looks.R   (needs metafor; made with R 4.2.2 and metafor 3.8-1)
suppressMessages(library(metafor))
found <- data.frame(case = character(), quantity = character(), value = numeric(), call = character())
keep <- function(case, quantity, value, call) found[nrow(found) + 1, ] <<- list(case, quantity, value, call)

for (name in c("raudenbush1985", "bangertdrowns2004", "amlodipine", "molloy2014", "lau1992", "cohen1981",
               "curtis1998", "baskerville2012", "gibson2002")) {
  d <- read.csv(paste0("data/", name, ".csv"))
  keep(name, "REML tau2", rma(yi, vi, data = d, control = list(threshold = 1e-14, maxiter = 10000))$tau2,
       "rma(yi, vi, control=list(threshold=1e-14))")
}
d <- read.csv("data/bcg.csv")
fit <- rma(measure = "RR", ai = tpos, bi = tneg, ci = cpos, di = cneg, data = d, control = list(threshold = 1e-14))
limits <- confint(fit, control = list(tol = 1e-13))$random["tau^2", ]
keep("bcg", "Q-profile low", limits[["ci.lb"]], "confint(tol=1e-13)")
keep("bcg", "Q-profile high", limits[["ci.ub"]], "confint(tol=1e-13)")
fit <- rma(measure = "OR", ai = tpos, bi = tneg, ci = cpos, di = cneg, data = d, method = "ML",
           control = list(threshold = 1e-14))
limits <- confint(fit, type = "PL", control = list(tol = 1e-13))$random["tau^2", ]
keep("bcg", "profile likelihood low", limits[["ci.lb"]], "confint(type=PL, tol=1e-13)")
keep("bcg", "profile likelihood high", limits[["ci.ub"]], "confint(type=PL, tol=1e-13)")
d <- data.frame(
  yi = c(0.0267, 0.8242, 0.393, 2.4405, 2.1401, 1.2528, 2.4849, 0.3087, 1.4246, 0.1823, 1.1378, 1.2321, 2.0695, 4.0237,
         1.4383, 1.6021),
  vi = c(0.1285, 0.0315, 0.0931, 2.0967, 1.0539, 0.1602, 1.0235, 0.0218, 0.5277, 0.0556, 0.3304, 0.1721, 0.4901, 2.02,
         0.3399, 0.183),
  x = rep(0:1, c(10, 6)))  # Jackson et al. 2014, example 1
limits <- confint(rma(yi, vi, mods = ~ x, data = d, method = "PM", control = list(tol = 1e-13)),
                  control = list(tol = 1e-13))$random["tau^2", ]
keep("jackson2014", "Q-profile low", limits[["ci.lb"]], "rma(mods=~x), confint(tol=1e-13)")
keep("jackson2014", "Q-profile high", limits[["ci.ub"]], "rma(mods=~x), confint(tol=1e-13)")
d <- read.csv("data/konstantopoulos2011.csv")
fit <- rma.mv(yi, vi, random = ~ 1 | district / school, data = d)
for (i in 1:2) {
  limits <- confint(fit, sigma2 = i, control = list(tol = 1e-12))$random[1, ]
  keep("konstantopoulos2011", paste(c("between", "within")[i], "low"), limits[["ci.lb"]], "rma.mv, confint(tol=1e-12)")
  keep("konstantopoulos2011", paste(c("between", "within")[i], "high"), limits[["ci.ub"]], "rma.mv, confint(tol=1e-12)")
}

# Networks: arm differences against the first arm of each study; V with the covariance that all contrasts imply.
for (name in c("Senn2013", "smokingcessation", "Linde2015", "Dong2013", "Hong2015_MD", "Hong2015_SMD")) {
  d <- read.csv(paste0("data/net_", name, ".csv"))
  nodes <- sort(unique(c(d$treat1, d$treat2)))
  y <- study <- place <- c(); X <- NULL; V <- list()
  for (one in unique(d$studlab)) {
    e <- d[d$studlab == one, ]
    arms <- unique(c(e$treat1, e$treat2)); base <- arms[1]; others <- arms[-1]
    look <- function(a, b) {
      r <- which(e$treat1 == a & e$treat2 == b)
      if (length(r)) return(c(e$TE[r], e$seTE[r]^2))
      r <- which(e$treat1 == b & e$treat2 == a)
      c(-e$TE[r], e$seTE[r]^2)
    }
    m <- length(others); block <- matrix(0, m, m)
    for (i in seq_len(m)) {
      y <- c(y, look(others[i], base)[1]); study <- c(study, one); place <- c(place, i)
      x <- as.numeric(nodes == others[i]) - as.numeric(nodes == base); X <- rbind(X, x)
      for (j in seq_len(m))
        block[i, j] <- if (i == j) look(others[i], base)[2] else
          (look(others[i], base)[2] + look(others[j], base)[2] - look(others[i], others[j])[2]) / 2
    }
    V[[length(V) + 1]] <- block
  }
  V <- bldiag(V)
  frame <- data.frame(y = y, study = study, place = factor(place))
  for (method in c("REML", "ML")) {
    run <- function(V) {
      for (tol in c(1e-12, 1e-11, 1e-10)) {
        fit <- try(rma.mv(y, V, mods = X[, -1], intercept = FALSE, random = ~ place | study, rho = 0.5, data = frame,
                          method = method, control = list(rel.tol = tol, iter.max = 5000, eval.max = 5000)), silent = TRUE)
        if (!inherits(fit, "try-error")) return(fit$tau2)
      }
      NA
    }
    keep(name, paste(method, "with covariance"), run(V), "rma.mv(V with covariance, random=~place|study, rho=0.5)")
    keep(name, paste(method, "without covariance"), run(diag(diag(V))), "rma.mv(diagonal V, random=~place|study, rho=0.5)")
  }
}
found$value <- sprintf("%.13g", found$value)
write.csv(found, "second_looks.csv", row.names = FALSE)

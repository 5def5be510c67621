# Answers of R's packages survival, npsurv and survey to the data sets of r_worlds.py; see
# make_r_answers.py.
# usage: Rscript answers.R FOLDER  (reads FOLDER/<seed>.csv, writes FOLDER/answers.csv)
suppressMessages(library(survival))
suppressMessages(library(npsurv))
suppressMessages(library(survey))
folder <- commandArgs(TRUE)[1]
told <- list()
say <- function(seed, name, values) {
  told[[length(told) + 1]] <<- data.frame(seed = seed, name = name,
    place = seq_along(values), value = sprintf("%.12g", values))
}
ages <- c(2, 4, 6, 8)
for (file in sort(list.files(folder, "^[0-9]+\\.csv$"))) {
  seed <- as.integer(sub("\\.csv", "", file))
  d <- read.csv(file.path(folder, file))
  d$failed <- as.integer(d$failed)

  km <- survfit(Surv(entry, exit, failed) ~ 1, data = d, weights = count, conf.type = "log-log")
  s <- summary(km, times = ages, extend = TRUE)
  say(seed, "km.survival", s$surv)
  say(seed, "km.std_err", s$std.err)
  say(seed, "km.hazard", s$cumhaz)
  by <- survfit(Surv(entry, exit, failed) ~ 1, data = d, cluster = vehicle)
  say(seed, "km.robust", summary(by, times = ages, extend = TRUE)$std.err)

  n <- survdiff(Surv(exit, failed) ~ grade, data = d)
  say(seed, "logrank", n$chisq)

  w <- survreg(Surv(exit, failed) ~ 1, data = d, weights = count)
  say(seed, "weibull", c(1 / w$scale, exp(w$coef), w$loglik[1]))
  a <- survreg(Surv(exit, failed) ~ grade + use + cluster(vehicle), data = d)
  say(seed, "aft.coef", a$coef[-1])
  say(seed, "aft.robust", sqrt(diag(a$var))[2:3])
  l <- survreg(Surv(exit, failed) ~ 1, data = d, weights = count, dist = "lognormal")
  say(seed, "lognormal", c(l$coef, l$scale, l$loglik[1]))
  g <- survreg(Surv(exit, failed) ~ 1, data = d, weights = count, dist = "loglogistic")
  say(seed, "loglogistic", c(g$coef, g$scale, g$loglik[1]))

  lo <- ifelse(d$failed == 1, floor(d$exit), d$exit)
  hi <- ifelse(d$failed == 1, floor(d$exit) + 1, Inf)
  iw <- survreg(Surv(ifelse(lo == 0, NA, lo), ifelse(is.finite(hi), hi, NA), type = "interval2") ~ 1,
    data = d, weights = count)
  say(seed, "interval.weibull", c(1 / iw$scale, exp(iw$coef)))
  # one look: the isotonic regression of failed on the look's age
  by_look <- d[rep(seq_len(nrow(d)), d$count), ]
  by_look$y <- as.numeric(by_look$exit <= by_look$looked)
  by_look <- by_look[order(by_look$looked, -by_look$y), ]
  iso <- isoreg(seq_len(nrow(by_look)), by_look$y)$yf
  say(seed, "turnbull.isotonic", sapply(ages, function(t) {
    seen_by <- by_look$looked <= t
    if (any(seen_by)) 1 - max(iso[seen_by]) else 1
  }))

  # two looks, 2 years apart: self-consistency by plain iteration, run far past the usual stop
  first <- d$looked
  second <- d$looked + 2
  left <- ifelse(d$exit <= first, 0, ifelse(d$exit <= second, first, second))
  right <- ifelse(d$exit <= first, first, ifelse(d$exit <= second, second, Inf))
  ends <- sort(unique(c(left, right)))
  cells_left <- head(ends, -1)
  cells_right <- tail(ends, -1)
  within <- outer(left, cells_left, "<=") & outer(right, cells_right, ">=")
  mass <- rep(1 / length(cells_left), length(cells_left))
  for (i in 1:10000) mass <- mass * colSums(d$count * within / as.vector(within %*% mass)) / sum(d$count)
  at <- ends[which.min(abs(ends - 5))]
  say(seed, "turnbull.twice", c(at, 1 - sum(mass[cells_right <= at])))
  np <- npsurv(cbind(left, right), w = d$count)$f
  say(seed, "turnbull.npsurv", c(at, 1 - sum(np$p[np$right <= at])))

  cx <- coxph(Surv(entry, exit, failed) ~ grade + use, data = d, cluster = vehicle)
  say(seed, "cox.coef", cx$coef)
  say(seed, "cox.robust", sqrt(diag(cx$var)))
  say(seed, "cox.naive", sqrt(diag(cx$naive.var)))
  say(seed, "cox.loglik", cx$loglik[2])

  # one answer a row, raked to a thousand by grade and by ending; the error is the linearised one
  design <- suppressWarnings(svydesign(ids = ~1, data = d))
  raked <- rake(design, list(~grade, ~ending), list(
    data.frame(grade = c("a", "b"), Freq = c(600, 400)),
    data.frame(ending = c("failed", "in service", "renewed"), Freq = c(450, 250, 300))),
    control = list(maxit = 1000, epsilon = 1e-9))
  mean_use <- svymean(~use, raked)
  say(seed, "rake.weights", weights(raked)[1:10])
  say(seed, "rake.mean", coef(mean_use))
  say(seed, "rake.log_std_err", log(SE(mean_use)))

  d$state <- factor(d$ending, c("in service", "failed", "renewed"))
  d$row <- seq_len(nrow(d))
  ms <- survfit(Surv(entry, exit, state) ~ 1, data = d, id = row)
  m <- summary(ms, times = ages, extend = TRUE)
  say(seed, "incidence", as.vector(m$pstate[, 2:3]))
  say(seed, "incidence.std_err", as.vector(m$std.err[, 2:3]))
}
write.csv(do.call(rbind, told), file.path(folder, "answers.csv"), row.names = FALSE, quote = FALSE)

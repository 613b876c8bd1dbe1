# Reference values for the comeback audit, by R's survival package (survfit, survdiff).
#
#   Rscript km.R file.csv > values.tsv
#
# The file has the columns group,time,event. Printed, separated by tabs:
#   km       group time n.risk n.event surv std.err lower upper   (95 %, log-log limits)
#   median   group median lower upper
#   logrank  chisq df p
#   group    name observed expected
suppressPackageStartupMessages(library(survival))
file <- commandArgs(trailingOnly = TRUE)[1]
d <- read.csv(file, colClasses = c("character", "numeric", "integer"))
num <- function(x) trimws(formatC(x, digits = 12, format = "g"))
line <- function(...) cat(paste(c(...), collapse = "\t"), "\n", sep = "")
cat("# R", as.character(getRversion()), "survival", as.character(packageVersion("survival")), "\n")
for (g in sort(unique(d$group), method = "radix")) {
  f <- survfit(Surv(time, event) ~ 1, data = d[d$group == g, ], conf.type = "log-log")
  s <- summary(f)
  for (i in seq_along(s$time))
    line("km", g, num(s$time[i]), s$n.risk[i], s$n.event[i], num(s$surv[i]), num(s$std.err[i]),
         num(s$lower[i]), num(s$upper[i]))
  m <- summary(f)$table
  line("median", g, num(m["median"]), num(m["0.95LCL"]), num(m["0.95UCL"]))
}
t <- survdiff(Surv(time, event) ~ group, data = d)
df <- sum(t$exp > 0) - 1
line("logrank", num(t$chisq), df, num(pchisq(t$chisq, df, lower.tail = FALSE)))
for (i in seq_along(t$obs))
  line("group", sub("^group=", "", names(t$n)[i]), num(t$obs[i]), num(t$exp[i]))

# Rank acceptabilities of smaa.json once more, by the R package smaa 0.3-3, for smaa_library.json.
#
# The package ranks and counts (smaa.values, smaa.ranks, smaa.ra, smaa.cw); its weights are given to it, as it asks for: exponential draws over
# their sum, which is uniform over the simplex. The table is that of smaa.py, scaled as there. Four million draws, half a minute.
# Shares no code with lakebeam. Made with R 4.2.2. Install: install.packages("smaa"). Run: Rscript smaa.R > smaa_library.json

library(smaa)

names <- c("IIA1", "IIA2", "IIA3", "IIA4", "IIB1", "IIB2", "IIB3", "IIB4", "IIC1", "IIC2", "IIC3", "IIC4", "ZERO")
table <- rbind(
  c(4, 1.0, 985, 30, 166, 705, 25000, 4.5, 4.2, 15.1, 1.75),
  c(4, 2.5, 985, 30, 166, 765, 25000, 4.5, 4.1, 15.3, 1.69),
  c(4, 1.5, 985, 30, 166, 705, 25000, 4.5, 4.3, 12.7, 1.75),
  c(4, 1.5, 985, 30, 166, 705, 25000, 4.5, 4.3, 12.2, 1.65),
  c(4, 1.5, 985, 35, 177, 705, 25000, 4.5, 4.4, 15.1, 1.68),
  c(4, 2.5, 985, 35, 177, 765, 25000, 4.5, 4.3, 15.3, 1.62),
  c(4, 2.0, 985, 35, 177, 705, 25000, 4.5, 4.5, 12.7, 1.68),
  c(4, 2.0, 985, 35, 177, 705, 25000, 4.5, 4.5, 12.2, 1.58),
  c(4, 1.0, 985, 35, 166, 705, 25000, 4.5, 4.6, 14.8, 1.72),
  c(4, 2.5, 985, 35, 166, 765, 25000, 4.5, 4.5, 15.0, 1.66),
  c(4, 1.5, 985, 35, 166, 705, 25000, 4.5, 4.7, 12.4, 1.72),
  c(4, 2.0, 985, 35, 166, 705, 25000, 4.5, 4.7, 11.9, 1.62),
  c(1, 0.0, 1300, 50, 266, 4200, 0, 2.0, 1.0, 18.8, 1.0)
)
maximised <- c(FALSE, FALSE, FALSE, TRUE, TRUE, FALSE, TRUE, TRUE, TRUE, FALSE, TRUE)
draws <- 4000000
batch <- 100000
options <- nrow(table)
criteria <- ncol(table)

low <- apply(table, 2, min)
high <- apply(table, 2, max)
worth <- sweep(sweep(table, 2, low), 2, high - low, "/")
worth[, !maximised] <- 1 - worth[, !maximised]

set.seed(20080612)
measured <- aperm(array(worth, c(options, criteria, batch)), c(3, 1, 2))
counts <- matrix(0, options, options)
central <- matrix(0, options, criteria)
for (round in seq_len(draws / batch)) {
  raw <- matrix(rexp(batch * criteria), batch)
  weights <- raw / rowSums(raw)
  ranks <- smaa.ranks(smaa.values(measured, weights))
  ranked <- unclass(smaa.ra(ranks)) * batch
  counts <- counts + ranked
  mean_weights <- unclass(smaa.cw(ranks, weights))
  mean_weights[is.na(mean_weights)] <- 0
  central <- central + mean_weights * ranked[, 1]
}

row_of <- function(values, digits) paste0("[", paste(format(round(values, digits), scientific = FALSE, trim = TRUE, drop0trailing = TRUE), collapse = ", "), "]")
rows_of <- function(matrix, digits, keep) paste0("[", paste(ifelse(keep, apply(matrix, 1, row_of, digits = digits), "null"), collapse = ", "), "]")
cat(sprintf('{"source": "Lahdelma and Salminen (2001), table 1; R package smaa 0.3-3, 4,000,000 draws, standard error at most 0.00025",\n'))
cat(sprintf('"names": [%s],\n', paste0('"', names, '"', collapse = ", ")))
cat(sprintf('"acceptability": %s,\n', rows_of(counts / draws, 5, rep(TRUE, options))))
cat(sprintf('"central_weights": %s}\n', rows_of(central / counts[, 1], 4, counts[, 1] > 20000)))

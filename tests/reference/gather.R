# Things behind marks by an implementation that is not ours: centroid linkage (R stats::hclust on squared
# distances), cut at the square of the reach. Run: Rscript tests/reference/gather.R   (recorded with R 4.2.2)
p <- matrix(c(12.1, 80.3, 14.0, 78.9, 40.2, 20.5, 38.0, 24.1, 44.9, 22.2, 60.5, 150.0, 52.0, 147.5, 13.5, 90.9,
              65.0, 10.0, 51.0, 158.0), ncol = 2, byrow = TRUE)
tree <- hclust(dist(p)^2, "centroid")
label <- cutree(tree, h = 10^2)
cat(match(label, unique(label)) - 1, "\n")
cat("heights:", sqrt(tree$height), "\n")

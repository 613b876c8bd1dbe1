# Labels of 4-neighbour connected regions by an implementation that is not ours: single-linkage clustering
# (R stats::hclust) of the set cells at Manhattan distance, cut at 1. Cells that share a side have distance 1,
# so a cluster at height 1 is exactly a connected region. Prints per grid the labels in reading order.
# Run: Rscript tests/reference/regions.R        (recorded with R 4.2.2)
grids <- list(
  spiral = c("#######", "......#", "#####.#", "#...#.#", "#.###.#", "#.....#", "#######"),
  diagonal = c("#..", ".#.", "..#"),
  comb = c("#.#.#.#", "#.#.#.#", "#######", ".......", "##...##"),
  noise = c("..##.#....#.", "#.#..##.###.", "##...#..#..#", "...##..##.##", "#.#..###....", "###.#....##."),
  row = c("........", "########", "........"),
  one = c("#"))
for (name in names(grids)) {
  cells <- do.call(rbind, strsplit(grids[[name]], ""))
  at <- which(t(cells) == "#", arr.ind = TRUE)          # (col, row), reading order
  label <- if (nrow(at) > 1) cutree(hclust(dist(at, "manhattan"), "single"), h = 1) else 1
  label <- match(label, unique(label))                  # numbered by first cell in reading order
  m <- matrix(0, ncol(cells), nrow(cells)); m[at] <- label
  cat(name, ncol(cells), nrow(cells), ":", paste(m, collapse = ""), "\n")
}

// Sentence on what the technician saw on the screens.
#include <algorithm>
#include <cmath>

#include "story.hpp"
#include "telling.hpp"
#include "words.hpp"

namespace hb::sheet {

/// A person's word, and said to be one.
Told said_of_panel(const CheckView& c, const Language& l) {
  Names screens;
  double dark = 0;
  for (const auto* v : c.measures("observed_dark_dots")) {
    screens.push_back(part_words(c, v->measure.part, l));
    dark += v->measure.value;
  }
  const auto folds = c.measures("observed_fold_marks");
  const bool clean = proved(c.measures("observed_bright_dots")) && proved(c.measures("observed_lines")) &&
                     proved(c.measures("observed_patches")) && (folds.empty() || proved(folds));
  std::string seen, allowed;
  if (clean && !screens.empty())
    seen = l.fill("seen by the technician, not measured: no line, no bright dot and no spot on {0}",
                  listed(screens, l));
  if (clean && dark > 0 && all_kept(c.measures("observed_dark_dots")))
    allowed = l.filln("{1} dark dot, which is allowed", "{1} dark dots, which are allowed",
                      std::llround(dark), count(std::llround(dark)));
  const std::string worst = worst_values(c, {}, l).text;
  if (worst.empty()) return join({seen, allowed});
  return join({bad(l.fill("seen by the technician, not measured: {0}", worst)), seen});
}
}  // namespace hb::sheet

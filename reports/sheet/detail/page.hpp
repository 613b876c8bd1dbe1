/// The layout of the one page: tries ever smaller plans until the story fits, then paints once.
#pragma once

#include "canvas.hpp"
#include "pictures.hpp"
#include "story.hpp"

namespace hb::sheet {

struct PageSize {
  double w = 595.276, h = 841.89;
};

/// Paints `story` on `canvas`. Always fits: what does not is left to the shop record, and the page says so.
void lay_out(Canvas& canvas, const PageSize& size, const Story& story, const View& view, const Drawing& qr,
             const Language& l);

}  // namespace hb::sheet

#include "page.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <numeric>
#include <set>

#include "words.hpp"

namespace hb::sheet {
namespace {
constexpr double kMargin = 38, kQr = 104;
/// Nothing on the page is smaller, in points (common practice for print that is to be read, no source).
constexpr double kSmallest = 7.5;

/// How much is shown, and how large. Sentences and items are left out whole, and the page says so; only names
/// (of a shop, a part, a phone) are ever shortened, and only by the last plans.
struct Plan {
  double scale = 1, picture_h = 118;
  std::size_t sentences = 100;  ///< a row; those that say what is wrong are always kept
  std::size_t remark_sentences = 100;
  std::size_t rows = 200, remarks = 200, parts = 100;
  std::size_t name_letters = 1000;
};
/// Smaller first, then fewer sentences, then without pictures, last without what the shop record holds
/// anyway.
constexpr std::size_t kComfortable = 9;  ///< so many plans leave nothing out
constexpr std::array<Plan, 21> kPlans{{{1.04, 146},
                                       {1.0, 136},
                                       {0.97, 126},
                                       {0.94, 116},
                                       {0.91, 108},
                                       {0.88, 102},
                                       {0.85, 98},
                                       {0.83, 92},
                                       {0.816, 86},
                                       {0.816, 86, 2, 2},
                                       {0.816, 86, 1, 2, 40, 40, 20},
                                       {0.816, 84, 1, 1, 20, 20, 12},
                                       {0.816, 0, 2, 2, 20, 12, 12},
                                       {0.816, 0, 1, 1, 20, 12, 8},
                                       {0.816, 0, 1, 1, 16, 6, 6},
                                       {0.816, 0, 1, 1, 14, 4, 4},
                                       {0.816, 0, 1, 1, 12, 2, 2},
                                       {0.816, 0, 1, 1, 12, 2, 2, 80},
                                       {0.816, 0, 1, 1, 8, 1, 1, 60},
                                       {0.816, 0, 1, 1, 3, 0, 1, 50},
                                       {0.816, 0, 1, 1, 0, 0, 0, 40}}};

/// Words that stay on one line.
std::string unbroken(std::string text) {
  for (auto at = text.find(' '); at != std::string::npos; at = text.find(' ')) text.replace(at, 1, "\u00A0");
  return text;
}

class Layout {
 public:
  Layout(Canvas& canvas, const PageSize& size, const Story& story, const View& view, const Drawing& qr,
         const Language& l)
      : canvas_(canvas), size_(size), story_(story), view_(view), qr_(qr), l_(l), w_(size.w - 2 * kMargin) {}

  void run() {
    std::size_t i = 0;
    while (i + 1 < kPlans.size() && !fits(kPlans[i], kPlans[i].scale > 0.84 ? 3.0
                                                     : i < kComfortable     ? 0.5
                                                                            : 0.0))
      ++i;
    Plan best = kPlans[i];
    if (i >= kComfortable) best = relaxed(best);
    const double used = pass(best, 0, false);
    const double gap = gaps_ > 0 ? std::clamp((room() - used) / gaps_, 0.0, 11.0) : 0;
    const Canvas::Tag document(canvas_, "Document");
    (void)pass(best, gap, true);
  }

 private:
  /// Where something `w` wide starts that is laid out at `x` from the side where reading starts.
  double mirrored(double x, double w) const { return l_.right_to_left() ? size_.w - x - w : x; }
  double pt(double size) const { return size * plan_.scale; }
  double font(double size) const { return std::max(kSmallest, pt(size)); }
  double say(double x, double w, const std::vector<Run>& runs, double size, Anchor anchor = Anchor::start) {
    return canvas_.text(mirrored(x, w), y_, w, runs, {font(size), anchor}, draw_);
  }
  double height(double w, const std::vector<Run>& runs, double size) const {
    return canvas_.text(0, 0, w, runs, {font(size)}, false);
  }
  /// A structure element of the tagged page (ISO 32000-1, 14.8.4) while it is painted.
  [[nodiscard]] Canvas::Tag tag(const char* name) { return {canvas_, draw_ ? name : nullptr}; }
  std::string name(const std::string& text) {
    std::string s = shortened(text, plan_.name_letters);
    more_ = more_ || s != text;
    return s;
  }
  void space(double h) {
    y_ += pt(h) + gap_;
    ++gaps_;
  }
  std::string and_more(std::size_t n) const {
    return l_.filln("and {0} more in the shop record", "and {0} more in the shop record",
                    static_cast<std::int64_t>(n));
  }
  void heading(const std::string& text, double x, double w) {
    const auto h2 = tag("H2");
    y_ += say(x, w, {{text, true, palette::petrol}}, 9.6) + pt(2.5);
  }

  /// A trial that is far past the page's end need not measure the rest.
  bool hopeless() const { return !draw_ && y_ > size_.h; }
  double room() const { return size_.h - 2 * kMargin + 8; }
  /// With at least `air` between the sections.
  bool fits(const Plan& plan, double air) { return pass(plan, 0, false) + gaps_ * air <= room(); }
  /// A plan cuts everything at once; gives back, one by one, what there is room for after all.
  Plan relaxed(Plan plan) {
    const auto give = [&](auto member) {
      for (const auto& wider : kPlans) {
        Plan more = plan;
        more.*member = wider.*member;
        if (more.*member == plan.*member) return;
        if (!fits(more, 1.5)) continue;
        plan = more;
        return;
      }
    };
    give(&Plan::remarks);
    give(&Plan::remark_sentences);
    give(&Plan::sentences);
    give(&Plan::parts);
    give(&Plan::name_letters);
    for (const std::size_t i : rows_of(plan)) {
      if (said(story_.rows[i].says, plan.sentences) == said(story_.rows[i].says)) continue;
      whole_.insert(i);
      if (!fits(plan, 0.3)) whole_.erase(i);
    }
    return plan;
  }

  /// Which rows are shown: all, or the worst ones.
  std::vector<std::size_t> rows_of(const Plan& plan) const {
    std::vector<std::size_t> rows(story_.rows.size());
    std::iota(rows.begin(), rows.end(), std::size_t{0});
    if (rows.size() > plan.rows)
      std::stable_sort(rows.begin(), rows.end(), [&](std::size_t a, std::size_t b) {
        return story_.rows[a].outcome > story_.rows[b].outcome;
      });
    rows.resize(std::min(rows.size(), plan.rows));
    return rows;
  }

  double pass(const Plan& plan, double gap, bool draw) {
    plan_ = plan;
    gap_ = gap;
    draw_ = draw;
    gaps_ = 0;
    more_ = false;
    y_ = kMargin - 8;
    head();
    facts();
    verdict();
    notes();
    table();
    remarks(l_.tr("What this means"), story_.attention, story_.more);
    remarks(l_.tr("What could not be tested, and why"), story_.untested, "");
    agreed();
    pictures();
    care();
    return foot() - kMargin + 8;
  }

  void head();
  void facts();
  void verdict();
  void notes();
  void table();
  void remarks(const std::string& title, const std::vector<Remark>& list, const std::string& last);
  void agreed();
  double banner(const std::string& text, double size, Colour colour, Colour ground);
  void pictures();
  void care();
  void checking(double x, double w);
  double foot();

  Canvas& canvas_;
  const PageSize size_;
  const Story& story_;
  const View& view_;
  const Drawing& qr_;
  const Language& l_;
  const double w_;
  Plan plan_;
  std::set<std::size_t> whole_;  ///< rows that are told at full length whatever the plan says
  double y_ = 0, gap_ = 0;
  int gaps_ = 0;
  bool draw_ = false, more_ = false;
};

/// A framed line over the whole width.
double Layout::banner(const std::string& text, double size, Colour colour, Colour ground) {
  const double h = height(w_ - 20, {{text, true}}, size) + pt(7);
  if (draw_)
    canvas_.box({kMargin, y_, w_, h, 3, Pen{.fill = ground, .stroke = colour, .width = 0.8, .dash = {4, 3}}});
  y_ += pt(3.5);
  const auto p = tag("P");
  (void)say(kMargin + 10, w_ - 20, {{text, true, colour}}, size, Anchor::middle);
  return h - pt(3.5);
}

void Layout::head() {
  const double split = w_ * 0.5;
  double left = 0, right = 0;
  {
    const auto p = tag("P");
    left = say(kMargin, split, {{l_.isolated(name(story_.shop)), true}}, 13);
  }
  const double top = y_;
  y_ += pt(3);
  {
    const auto p = tag("P");
    right = say(kMargin + split + 12, w_ - split - 12,
                {{l_.isolated(name(story_.contact)), false, palette::soft_ink}}, 9, Anchor::end);
  }
  y_ = top + std::max(left, right + pt(3)) + pt(3);
  if (draw_) canvas_.rule(kMargin, y_, w_, palette::ink, 1.4);
  space(7);
  if (!story_.withdrawn.empty()) {
    y_ += banner(story_.withdrawn, 17, palette::brick, palette::brick_tint);
    space(6);
  }
  if (!story_.demo_note.empty()) {
    y_ += banner(story_.demo_note, 9, palette::ink, palette::sand);
    space(6);
  }
  const auto h1 = tag("H1");
  y_ += say(kMargin, w_, {{story_.heading, true}}, 17.5);
  space(6);
}

void Layout::facts() {
  const std::size_t n = std::max<std::size_t>(story_.facts.size(), 1);
  const double each = w_ / static_cast<double>(n), inner = each - 10, top = y_;
  double bottom = y_;
  for (std::size_t i = 0; i < story_.facts.size(); ++i) {
    const auto& f = story_.facts[i];
    const double x = kMargin + static_cast<double>(i) * each;
    const auto p = tag("P");
    y_ = top;
    y_ += say(x, inner, {{f.label, false, palette::soft_ink}}, 8);
    y_ += say(x, inner, {{name(f.value), true}}, 10.5);
    if (!f.note.empty()) y_ += say(x, inner, {{name(f.note), false, palette::soft_ink}}, 8);
    bottom = std::max(bottom, y_);
  }
  y_ = bottom;
  space(7);
}

void Layout::verdict() {
  const double mark = pt(27), pad = pt(8), x = kMargin + pad * 2 + mark, w = w_ - (x - kMargin) - pad;
  const double head_h = height(w, {{story_.headline, true}}, 14.5),
               detail_h = height(w, {{story_.detail}}, 9.5);
  const double h = std::max(mark, head_h + detail_h) + 2 * pad;
  const Colour col = strong(story_.outcome);
  if (draw_) {
    canvas_.box(
        {kMargin, y_, w_, h, 5, Pen{.fill = tint(story_.outcome), .stroke = col, .width = 1.1, .dash = {}}});
    canvas_.draw(outcome_mark(story_.outcome, mark), mirrored(kMargin + pad, mark), y_ + (h - mark) / 2);
  }
  const double top = y_;
  y_ = top + (h - head_h - detail_h) / 2;
  {
    const auto h2 = tag("H2");
    y_ += say(x, w, {{story_.headline, true, col}}, 14.5);
  }
  {
    const auto p = tag("P");
    (void)say(x, w, {{story_.detail}}, 9.5);
  }
  y_ = top + h;
  space(8);
}

void Layout::notes() {
  if (story_.notes.empty()) return;
  for (const auto& note : story_.notes) {
    const auto p = tag("P");
    y_ += say(kMargin, w_, {{note, true}}, 9.2) + pt(1.5);
  }
  space(7);
}

void Layout::table() {
  const auto rows = rows_of(plan_);
  const double c1 = w_ * 0.24, c2 = w_ * 0.15, x1 = kMargin + 4, x2 = kMargin + c1, x3 = x2 + c2,
               c3 = w_ - c1 - c2 - 4;
  const auto whole = tag("Table");
  const auto cell = [&](const char* kind, double x, double w, const std::vector<Run>& runs, double size) {
    const auto one = tag(kind);
    return say(x, w, runs, size);
  };
  {
    const auto row = tag("TR");
    (void)cell("TH", x1, c1 - 10, {{l_.tr("What"), false, palette::soft_ink}}, 8);
    (void)cell("TH", x2, c2, {{l_.tr("Result"), false, palette::soft_ink}}, 8);
    y_ += cell("TH", x3, c3, {{l_.tr("What was measured"), false, palette::soft_ink}}, 8) + pt(2);
  }
  if (draw_) canvas_.rule(kMargin, y_, w_, palette::ink, 0.8);
  for (const std::size_t i : rows) {
    if (hopeless()) break;
    const Row& r = story_.rows[i];
    const std::string says = said(r.says, whole_.contains(i) ? 1000 : plan_.sentences);
    more_ = more_ || says != said(r.says);
    const std::vector<Run> t{{name(r.title), true}}, s{{says}},
        o{{word(r.outcome, l_), true, strong(r.outcome)}};
    const double mark = pt(10.5), pad = pt(3.4), w2 = c2 - mark - 8;
    const double h =
        std::max({height(c1 - 10, t, 9.2), height(c3, s, 9.2), height(w2, o, 9.2), mark}) + 2 * pad;
    if (draw_) {
      if (r.outcome != Outcome::pass)
        canvas_.box({kMargin, y_ + 0.4, w_, h - 0.4, 0,
                     Pen{.fill = tint(r.outcome), .stroke = -1, .width = 0, .dash = {}}});
      canvas_.draw(outcome_mark(r.outcome, mark), mirrored(x2, mark), y_ + pad);
      canvas_.rule(kMargin, y_ + h, w_, palette::rule, 0.6);
    }
    const double top = y_;
    y_ += pad;
    const auto row = tag("TR");
    (void)cell("TH", x1, c1 - 10, t, 9.2);
    (void)cell("TD", x2 + mark + 4, w2, o, 9.2);
    (void)cell("TD", x3, c3, s, 9.2);
    y_ = top + h;
  }
  if (rows.size() < story_.rows.size()) {
    y_ += pt(3);
    const auto row = tag("TR");
    y_ +=
        cell("TD", x1, w_ - 8, {{and_more(story_.rows.size() - rows.size()), true, palette::soft_ink}}, 9.2);
  }
  space(8);
}

void Layout::remarks(const std::string& title, const std::vector<Remark>& list, const std::string& last) {
  if (list.empty() || plan_.remarks == 0) {
    more_ = more_ || !list.empty();
    return;
  }
  heading(title, kMargin, w_);
  const std::size_t n = std::min(list.size(), plan_.remarks);
  for (std::size_t i = 0; i < n && !hopeless(); ++i) {
    const std::string says = said(list[i].says, plan_.remark_sentences);
    more_ = more_ || says != said(list[i].says);
    const auto p = tag("P");
    y_ += say(kMargin, w_, {{l_.fill("{0}:", name(list[i].title)) + " ", true}, {says}}, 9.2) + pt(1.5);
  }
  const auto p = tag("P");
  if (n < list.size()) y_ += say(kMargin, w_, {{and_more(list.size() - n), true, palette::soft_ink}}, 9.2);
  if (!last.empty()) y_ += say(kMargin, w_, {{last}}, 9.2);
  space(7);
}

void Layout::agreed() {
  std::vector<std::vector<Run>> items;
  const std::size_t n = std::min(story_.parts.size(), plan_.parts);
  for (std::size_t i = 0; i < n; ++i) {
    const auto& p = story_.parts[i];
    if (p.erased) {
      items.push_back({{p.name}});
      continue;
    }
    const std::string lot = p.lot.empty() ? l_.tr("lot not stated") : l_.fill("lot {0}", l_.ltr(name(p.lot)));
    items.push_back({{name(p.name), true}, {l_.fill("{0}, {1}", "", lot)}});
  }
  more_ = more_ || n < story_.parts.size();
  if (n < story_.parts.size())
    items.push_back({{and_more(story_.parts.size() - n), true, palette::soft_ink}});
  for (const auto& f : story_.agreed)
    items.push_back({{fmt::vformat(f.label, fmt::make_format_args("")), false}, {name(f.value), true}});
  if (items.empty()) return;
  heading(story_.agreed_title, kMargin, w_);
  const double half = (w_ - 16) / 2;
  for (std::size_t i = 0; i < items.size() && !hopeless(); i += 2) {
    double h = 0;
    for (std::size_t k = i; k < std::min(i + 2, items.size()); ++k) {
      const auto p = tag("P");
      h = std::max(h, say(kMargin + (k == i ? 0 : half + 16), half, items[k], 9.2));
    }
    y_ += h + pt(1.5);
  }
  space(7);
}

void Layout::pictures() {
  if (plan_.picture_h <= 0) return;
  constexpr double between = 14;
  const std::vector<Picture> list =
      hb::sheet::pictures(view_, {(w_ - 2 * between) / 3, pt(plan_.picture_h), kSmallest}, 3, l_);
  if (list.empty()) return;
  const double each = (w_ - 2 * between) / 3, top = y_;
  double caption = 0;
  for (std::size_t i = 0; i < list.size(); ++i) {
    const auto p = tag("Caption");
    caption = std::max(caption, say(kMargin + static_cast<double>(i) * (each + between), each,
                                    {{list[i].caption, true, palette::petrol}}, 8.6));
  }
  y_ = top + caption + pt(3);
  for (std::size_t i = 0; draw_ && i < list.size(); ++i)
    canvas_.figure(list[i].drawing, mirrored(kMargin + static_cast<double>(i) * (each + between), each), y_);
  y_ += pt(plan_.picture_h);
  space(8);
}

/// Care and how to check the sheet, the code beside them, then privacy: the code's height costs no room.
void Layout::care() {
  if (draw_) canvas_.rule(kMargin, y_ - gap_ / 2 - pt(4), w_, palette::rule, 0.6);
  constexpr double between = 14;
  const double side = (w_ - kQr - 2 * between) / 2, code = kMargin + side + between,
               right = code + kQr + between, top = y_;
  heading(story_.care_title, kMargin, side);
  for (const auto& c : story_.care) {
    const auto p = tag("P");
    y_ += say(kMargin, side, {{c.title + ". ", true}, {said(c.says)}}, 8.6) + pt(2.4);
  }
  y_ += pt(4.6);
  checking(kMargin, side);
  double bottom = std::max(y_, top + kQr);
  y_ = top;
  heading(l_.tr("Your privacy"), right, side);
  {
    const auto p = tag("P");
    y_ += say(right, side, {{said({story_.privacy.begin(), story_.privacy.end()})}}, 8.6);
  }
  bottom = std::max(bottom, y_);
  if (draw_) canvas_.figure(qr_, mirrored(code, kQr), bottom - kQr);
  y_ = bottom;
  space(6);
}

void Layout::checking(double x, double w) {
  heading(l_.tr("Check this sheet"), x, w);
  {
    const auto p = tag("P");
    y_ += say(x, w, {{story_.checking}}, 8.6) + pt(2);
  }
  if (!story_.key.empty()) {
    const auto p = tag("P");
    y_ += say(x, w, {{l_.tr("The shop's key:") + " ", false, palette::soft_ink}, {l_.ltr(story_.key), true}},
              8.6) +
          pt(2);
  }
  const auto p = tag("P");
  y_ += say(x, w, {{story_.program + " "}, {l_.ltr(unbroken(story_.command)), true}}, 8.6);
}

double Layout::foot() {
  if (draw_) canvas_.rule(kMargin, y_ - gap_ / 2 - pt(3), w_, palette::ink, 0.8);
  std::vector<Run> runs{{plan_.name_letters < 1000 ? story_.ask_short : story_.ask, true}};
  if (more_) runs.push_back({" " + l_.tr("More in the shop record."), false});
  const auto p = tag("P");
  return y_ + say(kMargin, w_, runs, 9.2);
}
}  // namespace

void lay_out(Canvas& canvas, const PageSize& size, const Story& story, const View& view, const Drawing& qr,
             const Language& l) {
  Layout(canvas, size, story, view, qr, l).run();
}
}  // namespace hb::sheet

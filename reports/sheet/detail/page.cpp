#include "page.hpp"

#include <algorithm>
#include <array>
#include <numeric>
#include <set>

#include "words.hpp"

namespace hb::sheet {
namespace {
constexpr double kMargin = 38, kQr = 104;

/// How much is shown, and how large. A `most` of 0 shows none.
struct Plan {
  double scale = 1, picture_h = 118;
  std::size_t says_chars = 600, remark_chars = 600, title_chars = 200;
  std::size_t rows = 200, remarks = 200, parts = 100;
  int head_lines = 3;
};
/// Smaller first, then shorter, then without pictures, last without what the shop record holds anyway.
constexpr std::size_t kComfortable = 10;  ///< so many plans cut no text
constexpr std::array<Plan, 19> kPlans{{{1.04, 146},
                                       {1.0, 136},
                                       {0.97, 126},
                                       {0.94, 116},
                                       {0.91, 108},
                                       {0.88, 102},
                                       {0.85, 98},
                                       {0.83, 95},
                                       {0.81, 92},
                                       {0.79, 88},
                                       {0.83, 96, 260, 260, 90, 40, 40, 20, 2},
                                       {0.81, 94, 170, 200, 70, 20, 20, 12, 2},
                                       {0.79, 92, 130, 150, 60, 16, 12, 8, 2},
                                       {0.79, 0, 170, 200, 70, 20, 16, 8, 2},
                                       {0.77, 0, 130, 150, 60, 16, 12, 8, 2},
                                       {0.76, 0, 110, 110, 50, 14, 8, 6, 1},
                                       {0.75, 0, 80, 90, 40, 12, 6, 4, 1},
                                       {0.74, 0, 70, 80, 40, 12, 4, 3, 1},
                                       {0.72, 0, 60, 70, 30, 10, 2, 2, 1}}};

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
                                                     : i < kComfortable     ? 0.8
                                                                            : 0.0))
      ++i;
    Plan best = kPlans[i];
    if (i >= kComfortable) best = relaxed(best);
    const double used = pass(best, 0, false);
    const double gap = gaps_ > 0 ? std::clamp((room() - used) / gaps_, 0.0, 11.0) : 0;
    (void)pass(best, gap, true);
  }

 private:
  /// Where something `w` wide starts that is laid out at `x` from the side where reading starts.
  double mirrored(double x, double w) const { return l_.right_to_left() ? size_.w - x - w : x; }
  double pt(double size) const { return size * plan_.scale; }
  double say(double x, double w, const std::vector<Run>& runs, double size, Anchor anchor = Anchor::start,
             int lines = 0) {
    return canvas_.text(mirrored(x, w), y_, w, runs, {pt(size), anchor, lines}, draw_);
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
    const auto tell_whole = [&](bool failed) {
      for (const std::size_t i : rows_of(plan)) {
        const Row& r = story_.rows[i];
        if ((r.outcome == Outcome::fail) != failed || shortened(r.says, plan.says_chars) == r.says) continue;
        whole_.insert(i);
        if (!fits(plan, failed ? 0.8 : 1.5)) whole_.erase(i);
      }
    };
    tell_whole(true);
    give(&Plan::remarks);
    give(&Plan::remark_chars);
    give(&Plan::says_chars);
    give(&Plan::parts);
    give(&Plan::head_lines);
    give(&Plan::title_chars);
    tell_whole(false);
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
    table();
    remarks(l_.tr("What this means"), story_.attention, story_.more);
    remarks(l_.tr("What could not be tested, and why"), story_.untested, "");
    parts();
    pictures();
    care();
    return foot() - kMargin + 8;
  }

  void head();
  void facts();
  void verdict();
  void table();
  void remarks(const std::string& title, const std::vector<Remark>& list, const std::string& last);
  void parts();
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

void Layout::head() {
  const double split = w_ * 0.5;
  const double left =
      say(kMargin, split, {{l_.isolated(story_.shop), true}}, 13, Anchor::start, plan_.head_lines);
  const double top = y_;
  y_ += pt(3);
  const double right =
      say(kMargin + split + 12, w_ - split - 12, {{l_.isolated(story_.contact), false, palette::soft_ink}}, 9,
          Anchor::end, plan_.head_lines);
  y_ = top + std::max(left, right + pt(3)) + pt(3);
  if (draw_) canvas_.rule(kMargin, y_, w_, palette::ink, 1.4);
  space(7);
  if (!story_.demo_note.empty()) {
    const double h = canvas_.text(0, 0, w_ - 20, {{story_.demo_note, true}}, {pt(9)}, false) + pt(7);
    if (draw_)
      canvas_.box({kMargin, y_, w_, h, 3,
                   Pen{.fill = palette::sand, .stroke = palette::ink, .width = 0.8, .dash = {4, 3}}});
    y_ += pt(3.5);
    (void)say(kMargin + 10, w_ - 20, {{story_.demo_note, true}}, 9, Anchor::middle);
    y_ += h - pt(3.5);
    space(6);
  }
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
    y_ = top;
    y_ += say(x, inner, {{f.label, false, palette::soft_ink}}, 8);
    y_ += say(x, inner, {{f.value, true}}, 10.5, Anchor::start, 2);
    if (!f.note.empty())
      y_ += say(x, inner, {{f.note, false, palette::soft_ink}}, 8, Anchor::start, plan_.head_lines);
    bottom = std::max(bottom, y_);
  }
  y_ = bottom;
  space(7);
}

void Layout::verdict() {
  const double mark = pt(27), pad = pt(8), x = kMargin + pad * 2 + mark, w = w_ - (x - kMargin) - pad;
  const double head_h = canvas_.text(0, 0, w, {{story_.headline, true}}, {pt(14.5)}, false);
  const double detail_h = canvas_.text(0, 0, w, {{story_.detail}}, {pt(9.5)}, false);
  const double h = std::max(mark, head_h + detail_h) + 2 * pad;
  const Colour col = strong(story_.outcome);
  if (draw_) {
    canvas_.box(
        {kMargin, y_, w_, h, 5, Pen{.fill = tint(story_.outcome), .stroke = col, .width = 1.1, .dash = {}}});
    canvas_.draw(outcome_mark(story_.outcome, mark), mirrored(kMargin + pad, mark), y_ + (h - mark) / 2);
  }
  const double top = y_;
  y_ = top + (h - head_h - detail_h) / 2;
  y_ += say(x, w, {{story_.headline, true, col}}, 14.5);
  (void)say(x, w, {{story_.detail}}, 9.5);
  y_ = top + h;
  space(8);
}

void Layout::table() {
  const auto rows = rows_of(plan_);
  const double c1 = w_ * 0.25, c2 = w_ * 0.185, x1 = kMargin + 4, x2 = kMargin + c1, x3 = x2 + c2,
               c3 = w_ - c1 - c2 - 4;
  (void)say(x1, c1 - 10, {{l_.tr("What"), false, palette::soft_ink}}, 8);
  (void)say(x2, c2, {{l_.tr("Result"), false, palette::soft_ink}}, 8);
  y_ += say(x3, c3, {{l_.tr("What was measured"), false, palette::soft_ink}}, 8) + pt(2);
  if (draw_) canvas_.rule(kMargin, y_, w_, palette::ink, 0.8);
  for (const std::size_t i : rows) {
    if (hopeless()) break;
    const Row& r = story_.rows[i];
    const std::string says = whole_.contains(i) ? r.says : shortened(r.says, plan_.says_chars),
                      title = shortened(r.title, plan_.title_chars);
    const std::vector<Run> t{{title, true}}, s{{says}}, o{{word(r.outcome, l_), true, strong(r.outcome)}};
    const double mark = pt(10.5), pad = pt(3.6), w2 = c2 - mark - 12;
    const double h = std::max({canvas_.text(0, 0, c1 - 10, t, {pt(9.2)}, false),
                               canvas_.text(0, 0, c3, s, {pt(9.2)}, false),
                               canvas_.text(0, 0, w2, o, {pt(9.2)}, false), mark}) +
                     2 * pad;
    if (draw_) {
      if (r.outcome != Outcome::pass)
        canvas_.box({kMargin, y_ + 0.4, w_, h - 0.4, 0,
                     Pen{.fill = tint(r.outcome), .stroke = -1, .width = 0, .dash = {}}});
      canvas_.draw(outcome_mark(r.outcome, mark), mirrored(x2, mark), y_ + pad);
      canvas_.rule(kMargin, y_ + h, w_, palette::rule, 0.6);
    }
    const double top = y_;
    y_ += pad;
    (void)say(x1, c1 - 10, t, 9.2);
    (void)say(x2 + mark + 5, w2, o, 9.2);
    (void)say(x3, c3, s, 9.2);
    y_ = top + h;
    more_ = more_ || says != r.says || title != r.title;
  }
  if (rows.size() < story_.rows.size()) {
    y_ += pt(3);
    y_ += say(x1, w_ - 8, {{and_more(story_.rows.size() - rows.size()), true, palette::soft_ink}}, 9.2);
  }
  space(8);
}

void Layout::remarks(const std::string& title, const std::vector<Remark>& list, const std::string& last) {
  if (list.empty() || plan_.remarks == 0) return;
  heading(title, kMargin, w_);
  const std::size_t n = std::min(list.size(), plan_.remarks);
  for (std::size_t i = 0; i < n && !hopeless(); ++i) {
    const std::string says = shortened(list[i].says, plan_.remark_chars),
                      head = shortened(list[i].title, plan_.title_chars);
    more_ = more_ || says != list[i].says;
    y_ += say(kMargin, w_, {{l_.fill("{0}:", head) + " ", true}, {says}}, 9.2) + pt(1.5);
  }
  if (n < list.size()) y_ += say(kMargin, w_, {{and_more(list.size() - n), true, palette::soft_ink}}, 9.2);
  if (!last.empty()) y_ += say(kMargin, w_, {{last}}, 9.2);
  space(7);
}

void Layout::parts() {
  std::vector<std::vector<Run>> items;
  const std::size_t n = std::min(story_.parts.size(), plan_.parts);
  for (std::size_t i = 0; i < n; ++i) {
    const auto& p = story_.parts[i];
    more_ = more_ || shortened(p.name, plan_.title_chars) != p.name;
    const std::string lot = p.lot.empty() ? l_.tr("lot not stated")
                                          : l_.fill("lot {0}", l_.ltr(shortened(p.lot, plan_.title_chars)));
    items.push_back(
        {{l_.isolated(shortened(p.name, plan_.title_chars)), true}, {l_.fill("{0}, {1}", "", lot)}});
  }
  more_ = more_ || n < story_.parts.size();
  if (n < story_.parts.size())
    items.push_back({{and_more(story_.parts.size() - n), true, palette::soft_ink}});
  if (!story_.colour.empty())
    items.push_back({{l_.fill("Colour agreed: {0}", ""), false},
                     {l_.isolated(shortened(story_.colour, plan_.title_chars)), true}});
  if (items.empty()) return;
  heading(l_.tr("Parts fitted"), kMargin, w_);
  const double half = (w_ - 16) / 2;
  for (std::size_t i = 0; i < items.size() && !hopeless(); i += 2) {
    double h = say(kMargin, half, items[i], 9.2);
    if (i + 1 < items.size()) h = std::max(h, say(kMargin + half + 16, half, items[i + 1], 9.2));
    y_ += h + pt(1.5);
  }
  space(7);
}

void Layout::pictures() {
  if (plan_.picture_h <= 0) return;
  constexpr double between = 14;
  const std::vector<Picture> list = hb::sheet::pictures(
      view_, {(w_ - 2 * between) / 3, pt(plan_.picture_h), std::max(6.2, pt(6.8))}, 3, l_);
  if (list.empty()) return;
  const double each = (w_ - 2 * between) / 3, top = y_;
  double caption = 0;
  for (std::size_t i = 0; i < list.size(); ++i)
    caption = std::max(caption, say(kMargin + static_cast<double>(i) * (each + between), each,
                                    {{list[i].caption, true, palette::petrol}}, 8.6));
  y_ = top + caption + pt(3);
  for (std::size_t i = 0; draw_ && i < list.size(); ++i)
    canvas_.draw(list[i].drawing, mirrored(kMargin + static_cast<double>(i) * (each + between), each), y_);
  y_ += pt(plan_.picture_h);
  space(8);
}

/// Care and how to check the sheet, the code beside them, then privacy: the code's height costs no room.
void Layout::care() {
  if (draw_) canvas_.rule(kMargin, y_ - gap_ / 2 - pt(4), w_, palette::rule, 0.6);
  constexpr double between = 18;
  const double side = (w_ - kQr - 2 * between) / 2, code = kMargin + side + between,
               right = code + kQr + between, top = y_;
  heading(l_.tr("Please take care"), kMargin, side);
  for (const auto& c : story_.care)
    y_ += say(kMargin, side, {{c.title + ". ", true}, {c.says}}, 8.6) + pt(2.4);
  y_ += pt(4.6);
  checking(kMargin, side);
  double bottom = std::max(y_, top + kQr);
  y_ = top;
  heading(l_.tr("Your privacy"), right, side);
  y_ += say(right, side, {{story_.privacy}}, 8.6);
  bottom = std::max(bottom, y_);
  if (draw_) canvas_.draw(qr_, mirrored(code, kQr), bottom - kQr);
  y_ = bottom;
  space(6);
}

void Layout::checking(double x, double w) {
  heading(l_.tr("Check this sheet"), x, w);
  y_ += say(x, w, {{story_.checking + " "}, {l_.ltr(unbroken(story_.command)), true}}, 8.6) + pt(3);
  if (story_.key.empty()) return;
  y_ += say(x, w, {{l_.tr("Signed with key") + " ", false, palette::soft_ink}, {l_.ltr(story_.key), true}},
            8.6);
}

double Layout::foot() {
  if (draw_) canvas_.rule(kMargin, y_ - gap_ / 2 - pt(3), w_, palette::ink, 0.8);
  std::vector<Run> runs{{shortened(story_.ask, std::max<std::size_t>(plan_.remark_chars, 220)), true}};
  if (more_) runs.push_back({" " + l_.tr("More in the shop record."), false});
  return y_ + say(kMargin, w_, runs, 9.2);
}
}  // namespace

void lay_out(Canvas& canvas, const PageSize& size, const Story& story, const View& view, const Drawing& qr,
             const Language& l) {
  Layout(canvas, size, story, view, qr, l).run();
}
}  // namespace hb::sheet
